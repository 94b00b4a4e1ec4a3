-- Run once by the image of the database, when it makes its folder: the service's own role, which owns its database and is
-- no superuser. The superuser has no password from then on: it is reached from within the container alone
-- (docker compose exec database psql -U postgres).
SET log_min_error_statement = panic;
\set password `cat /run/secrets/database_password`
CREATE ROLE seamcost LOGIN PASSWORD :'password';
CREATE DATABASE seamcost OWNER seamcost;
REVOKE ALL ON DATABASE seamcost FROM PUBLIC;
ALTER ROLE CURRENT_USER PASSWORD NULL;
