"""Taking a database's own guards away, as somebody would who may change its tables: to show what else holds."""

from typing import Any

from service.persistence.engines import Engines


def guards_of(connection: Any, is_sqlite: bool) -> list[tuple[str, str]]:
    """The triggers that are there, each with its table."""
    asked = ("SELECT name, tbl_name FROM sqlite_schema WHERE type = 'trigger'" if is_sqlite else
             "SELECT tgname, tgrelid::regclass::text FROM pg_trigger WHERE NOT tgisinternal")
    return sorted((name, table) for name, table in connection.exec_driver_sql(asked))


def take_guards_away(engines: Engines) -> None:
    """Drop every trigger; checks, keys and references stay."""
    with engines.write() as connection:
        for name, table in guards_of(connection, engines.is_sqlite):
            connection.exec_driver_sql(f"DROP TRIGGER {name}" + ("" if engines.is_sqlite else f" ON {table}"))
