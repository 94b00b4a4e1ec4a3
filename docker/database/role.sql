-- Run once by the image of the database, when it makes its folder. Two roles, no superusers: `seamcost` owns the database
-- and all that `migrate` makes in it; `seamcost_service` is whoever serves, delivers and backs up: it reads and writes rows,
-- and changes neither a table nor the triggers that keep the ledger's history. The superuser has no password from then on:
-- it is reached from within the container alone (docker compose exec database psql -U postgres).
SET log_min_error_statement = panic;
\set owner_password `cat /run/secrets/owner_password`
\set service_password `cat /run/secrets/service_password`
CREATE ROLE seamcost LOGIN PASSWORD :'owner_password';
CREATE ROLE seamcost_service LOGIN PASSWORD :'service_password';
CREATE DATABASE seamcost OWNER seamcost;
REVOKE ALL ON DATABASE seamcost FROM PUBLIC;
GRANT CONNECT ON DATABASE seamcost TO seamcost_service;
ALTER ROLE CURRENT_USER PASSWORD NULL;
\connect seamcost
-- Of every table to come.
ALTER DEFAULT PRIVILEGES FOR ROLE seamcost IN SCHEMA public
    GRANT SELECT, INSERT, UPDATE, DELETE ON TABLES TO seamcost_service;
