"""Does the schema of a database fit this release: is it at this release's newest migration, or newer and still works.

During a rolling release the database is migrated first, and workers of the release before go on: each migration says
from which migration on code works on the schema that it leaves (`works_from`, one row in the database).
"""

from functools import cache
from pathlib import Path

from sqlalchemy import Connection, column, inspect, select, table

from service.persistence.engines import Engines
from service.persistence.tables.schema_support import schema_support
from service.shipped_files import shipped_folder
from service.use_cases.ledger_unavailable import LedgerNotMigrated

VERSION = table("alembic_version", column("version_num"))
"""Alembic's own table. It is read here without alembic, which takes long to import and is not needed to serve."""


def fits(engines: Engines) -> bool:
    """True: code of this release works on the database.

    Raises:  LedgerNotMigrated, saying what is the matter; LedgerUnavailable.
    """
    with engines.read() as connection:
        hold_to_fit(connection, newest_version())
    return True


def hold_to_fit(connection: Connection, newest: str | None) -> None:
    """Refuse a schema on which code whose newest migration is `newest` does not work.

    Raises:  LedgerNotMigrated.
    """
    stands = version_on(connection)
    if stands == newest:
        return
    if stands is None or newest is None or stands < newest:
        raise LedgerNotMigrated(f"The database is at migration {stands or 'none'}, and this release works on {newest}; "
                                "run `seamcost migrate` of this release.")
    works_from = _works_from(connection)
    if works_from is None or works_from > newest:
        raise LedgerNotMigrated(f"The database is at migration {stands}, on which releases from migration {works_from} "
                                f"on work; this one is of {newest}. Run a newer release.")


def hold_to_own_schema(engines: Engines) -> str:
    """The migration that the database is at, which must be this release's own: who reads or fills every column of every
    table needs that.

    Raises:  LedgerNotMigrated, LedgerUnavailable.
    """
    with engines.read() as connection:
        return own_schema(connection)


def own_schema(connection: Connection) -> str:
    """The same, in a transaction that goes on.

    Raises:  LedgerNotMigrated.
    """
    stands = version_on(connection)
    if stands is None or stands != newest_version():
        raise LedgerNotMigrated(f"The database is at migration {stands or 'none'}, this release knows the tables of "
                                f"{newest_version()}: a backup is made and restored by the release of the same one.")
    return stands


def at_head(engines: Engines) -> bool:
    """Whether the database is at the newest migration of this release.

    Raises:  LedgerUnavailable.
    """
    return schema_version(engines) == newest_version()


def schema_version(engines: Engines) -> str | None:
    """The migration that the database is at, or None before the first."""
    with engines.read() as connection:
        return version_on(connection)


def version_on(connection: Connection) -> str | None:
    """The same, on a connection."""
    if not inspect(connection).has_table(VERSION.name):
        return None
    return connection.scalar(select(VERSION.c.version_num))


@cache
def newest_version(scripts: Path | None = None) -> str | None:
    """The newest migration that this release brings, or another one whose `scripts` are given: they are numbered."""
    names = [file.name for file in (scripts_at(scripts) / "versions").glob("[0-9]*_*.py")]
    return max((name.partition("_")[0] for name in names), default=None)


def scripts_at(scripts: Path | None) -> Path:
    """Where the migrations are: this release's own, or those given."""
    return scripts or shipped_folder("migrations")


def _works_from(connection: Connection) -> str | None:
    if not inspect(connection).has_table(schema_support.name):
        return None
    return connection.scalar(select(schema_support.c.works_from))
