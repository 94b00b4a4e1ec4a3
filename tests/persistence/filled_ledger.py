"""A ledger with rows in every table, asked for through the whole service, on either engine."""

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import MetaData, insert, inspect, select

from service.cli.costs import DISHES, snapshot_of
from service.persistence.backup import LEFT_OUT, backup
from service.persistence.engines import Engines, open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.restoring import restore
from service.persistence.tables.every_table import every_table
from service.persistence.tables.schema_support import schema_support
from service.persistence.tables.webhooks import webhook_dish_outside
from tests.rest.example_webhooks import make_webhook
from tests.rest.small_kitchen import Kitchen, small_kitchen

A_LIST = b"code,name,price,unit\n10/2,Leg,9.90,kg\n"
Rows = dict[str, list[dict[str, Any]]]


def fill(path: Path) -> None:
    """Fill a migrated, empty SQLite file."""
    with small_kitchen(path) as kitchen:
        _ask(kitchen, "PUT", "/v1/settings", json={
            "currency": "GBP", "time_zone": "UTC", "business_day_start": "00:00", "section_targets": [
                {"section": "Starters", "target_food_cost_percent": "20"}]}, headers={"If-Match": "*"})
        _ask(kitchen, "PUT", "/v1/sales/2026-02-03", json={"lines": [
            {"pos_code": "7", "quantity": "12", "net_takings": "78"}]})
        _ask(kitchen, "POST", "/v1/feeds", json={"name": "Sheet", "lists": ["dish-costs"]})
        for amount in ("3", "300"):  # within its target, and then outside
            _ask(kitchen, "POST", "/v1/ingredients/egg/prices", headers={"Idempotency-Key": f'"eggs-{amount}"'}, json={
                "supplier": "mill", "amount": amount, "pack_quantity": "30", "pack_unit": "each"})
        listed = _ask(kitchen, "POST", "/v1/price-proposals?supplier=mill&effective_from=2026-11-02"
                      "&name_column=name&item_column=code&price_column=price&unit_column=unit", data=A_LIST,
                      content_type="text/csv")
        _ask(kitchen, "POST", f"/v1/price-proposals/{listed['id']}/rejection", json={"reason": "too dear"})
        alert = _ask(kitchen, "GET", "/v1/margin-alerts")["data"][0]["id"]
        _ask(kitchen, "POST", f"/v1/margin-alerts/{alert}/acknowledgement", json={"note": "smaller portion"})
        kitchen.ledger.bookings.book("somebody", 60, 10)
    engines = open_engines(f"sqlite:///{path}")
    make_webhook(SqlLedger(engines), engines)
    with engines.write() as connection:
        connection.execute(insert(webhook_dish_outside), {"dish": "soup"})
    engines.dispose()


def copy(source: Engines, target: Engines, folder: Path) -> None:
    """Copy every row into another migrated, empty ledger of either engine: a backup, and what it leaves out."""
    backup(source, folder / "filled.jsonl")
    restore(target, folder / "filled.jsonl")
    beside = [table for table in every_table() if table in LEFT_OUT and table is not schema_support]
    with source.read() as reading, target.write() as writing:
        for table in reversed(beside):
            writing.execute(table.delete())
        for table in beside:
            rows = [dict(row) for row in reading.execute(select(table)).mappings()]
            if rows:
                writing.execute(insert(table), rows)


def empty_tables(engines: Engines) -> list[str]:
    """What holds nothing, of all tables that are there."""
    return sorted(name for name, rows in rows_of(engines).items() if not rows)


OF_THE_FORM = ("alembic_version", "schema_support")


def rows_of(engines: Engines) -> Rows:
    """All rows of all tables that are there, as the database has them, but for those that say of which form it is."""
    tables = MetaData()
    with engines.read() as connection:
        tables.reflect(connection)
        return {table.name: sorted((dict(row) for row in connection.execute(select(table)).mappings()), key=repr)
                for table in tables.sorted_tables if table.name not in OF_THE_FORM}


def kept(after: Rows, before: Rows) -> Rows:
    """Of the rows after, what `before` has columns for."""
    columns = {name: rows[0].keys() if rows else () for name, rows in before.items()}
    return {name: sorted(({column: row[column] for column in columns[name]} for row in after[name]), key=repr)
            for name in before}


def broken_references(engines: Engines) -> Sequence[Any]:
    """References to nothing. PostgreSQL holds each at all times, unless it was made without looking."""
    with engines.read() as connection:
        if engines.is_sqlite:
            return connection.exec_driver_sql("PRAGMA foreign_key_check").all()
        return connection.exec_driver_sql("SELECT conname FROM pg_constraint WHERE NOT convalidated").all()


def references(engines: Engines) -> int:
    """How many foreign keys there are."""
    with engines.read() as connection:
        inspector = inspect(connection)
        return sum(len(inspector.get_foreign_keys(name)) for name in inspector.get_table_names())


def dish_costs(engines: Engines) -> list[tuple[str, Any, Any]]:
    """What each dish costs, as published."""
    snapshot = snapshot_of(SqlLedger(engines, lambda: datetime(2026, 11, 25, 12, tzinfo=UTC)))
    return [(row["dish"], row["food_cost"], row["labour_cost"]) for row in DISHES.rows(snapshot)]


def _ask(kitchen: Kitchen, method: str, path: str, **asked: Any) -> Any:
    headers = {**kitchen.headers, **asked.pop("headers", {})}
    answer = kitchen.client.open(path, method=method, headers=headers, **asked)
    assert answer.status_code < 300, answer.text
    return answer.json
