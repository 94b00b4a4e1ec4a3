"""Costs from the command line, through the same use cases as the REST answers: as a table to read, or as CSV."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Any, TypeVar

import click

from service import wiring
from service.cli.flags import database_flag, settings_of
from service.cli.text_table import text_table
from service.rest.cost_columns import CUT_COLUMNS, DISH_COLUMNS, RECIPE_COLUMNS
from service.rest.csv_answers import csv_bytes
from service.use_cases.cost_rows import cut_rows, dish_rows, recipe_rows
from service.use_cases.snapshots import Snapshot, Snapshots, position_asked

Row = Mapping[str, Any]
Command = TypeVar("Command", bound=Callable[..., Any])


@click.group()
def costs() -> None:
    """Show what dishes, cuts and recipes cost, today or on any day."""


def reading_flags(command: Command) -> Command:
    """`--as-of`, `--known-at`, `--csv` and `--database`."""
    flags = (
        click.option("--as-of", type=click.DateTime(["%Y-%m-%d"]), metavar="DAY",
                     help="The day, as 2026-11-25. [default: today]"),
        click.option("--known-at", type=click.IntRange(min=0), metavar="REVISION",
                     help="As it was known at a revision. [default: the latest]"),
        click.option("--csv", "as_csv", is_flag=True, help="All columns, as CSV."),
        database_flag,
    )
    for flag in reversed(flags):
        command = flag(command)
    return command


@costs.command()
@reading_flags
def dishes(as_of: datetime | None, known_at: int | None, as_csv: bool, database: str | None) -> None:
    """What each dish costs and earns."""
    with _snapshot(as_of, known_at, database) as snapshot:
        _tell(csv_bytes(DISH_COLUMNS, dish_rows(snapshot)) if as_csv else _told(snapshot, dish_table(snapshot)))


@costs.command()
@reading_flags
def cuts(as_of: datetime | None, known_at: int | None, as_csv: bool, database: str | None) -> None:
    """What each cut and trim costs per kilogram."""
    with _snapshot(as_of, known_at, database) as snapshot:
        _tell(csv_bytes(CUT_COLUMNS, cut_rows(snapshot)) if as_csv else _told(snapshot, cut_table(snapshot)))


@costs.command()
@reading_flags
def recipes(as_of: datetime | None, known_at: int | None, as_csv: bool, database: str | None) -> None:
    """What each recipe costs per unit that it makes."""
    with _snapshot(as_of, known_at, database) as snapshot:
        _tell(csv_bytes(RECIPE_COLUMNS, recipe_rows(snapshot)) if as_csv else _told(snapshot, recipe_table(snapshot)))


def dish_table(snapshot: Snapshot) -> str:
    """The dishes, with what a chef looks at first, and what is missing."""
    rows = dish_rows(snapshot)
    return _table(rows, {
        "dish": "dish", "name": "name", "menu price": "menu_price", "food cost": "food_cost",
        "food cost %": "food_cost_percent", "target %": "target_food_cost_percent", "gross profit": "gross_profit",
        "labour": "labour_cost"}, lambda row: "above target" if row["within_target"] is False else "")


def cut_table(snapshot: Snapshot) -> str:
    """The cuts, with what a butcher looks at first, and what is missing."""
    return _table(cut_rows(snapshot), {
        "cut": "cut", "name": "name", "role": "role", "yield": "yield", "material / kg": "material_cost_per_kg",
        "labour / kg": "labour_cost_per_kg", "cost / kg": "cost_per_kg", "factor": "cost_factor",
        "market value": "market_value"})


def recipe_table(snapshot: Snapshot) -> str:
    """The recipes, and what is missing."""
    return _table(recipe_rows(snapshot), {
        "recipe": "recipe", "name": "name", "makes": "makes_quantity", "unit": "makes_unit",
        "whole": "cost", "per unit": "cost_per_unit"})


def _table(rows: Sequence[Row], columns: Mapping[str, str], own: Callable[[Row], str] = lambda _row: "") -> str:
    lines = [[_cell(row, member) for member in columns.values()] + [_remark(row, own(row))] for row in rows]
    missing = [f"{row[next(iter(columns.values()))]}: {gap['detail']}" for row in rows for gap in row["gaps"]]
    return "\n".join([text_table([*columns, "remark"], lines), *(["", "Missing:"] if missing else []), *missing])


def _cell(row: Row, member: str) -> str:
    """A figure as published; one that is not known is empty, or says how much it is at least."""
    value = row[member]
    if value is None and row.get(f"known_{member}") is not None:
        return f">= {row[f'known_{member}']}"
    return "" if value is None else str(value)


def _remark(row: Row, own: str) -> str:
    incomplete = ["incomplete"] if row["status"] == "incomplete" else []
    findings = [finding["code"].replace("_", " ") for finding in row["findings"]]
    return ", ".join([*incomplete, *([own] if own else []), *findings])


@contextmanager
def _snapshot(as_of: datetime | None, known_at: int | None, database: str | None) -> Iterator[Snapshot]:
    with wiring.opened_ledger(settings_of(database)) as ledger:
        day = None if as_of is None else as_of.date()
        position = position_asked(ledger, ledger.head(), ledger.today(), day, known_at, costs_only=False)
        yield Snapshots(ledger).at(position)


def _told(snapshot: Snapshot, table: str) -> bytes:
    position, currency = snapshot.position, snapshot.kitchen.settings.currency
    return f"As of {position.day}, as known at revision {position.revision}, in {currency}\n\n{table}\n".encode()


def _tell(text: bytes) -> None:
    click.get_binary_stream("stdout").write(text)
