"""Costs from the command line, through the same use cases as the REST answers: as a table to read, or as CSV."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeVar

import click

from service import operating
from service.cli.flags import database_flag, settings_of
from service.cli.text_table import text_table
from service.rest.cost_columns import CUT_COLUMNS, DISH_COLUMNS, RECIPE_COLUMNS
from service.rest.csv_answers import Column, csv_bytes
from service.use_cases.cost_rows import Rows, cut_rows, dish_rows, recipe_rows
from service.use_cases.ports import Ledger
from service.use_cases.position import position_asked
from service.use_cases.snapshot import Snapshot
from service.use_cases.snapshots import Snapshots

Row = Mapping[str, Any]
Command = TypeVar("Command", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True)
class CostTable:
    """One of the tables: its rows, all their columns for CSV, and by heading those that people look at first."""

    rows: Rows
    csv_columns: Sequence[Column]
    shown: Mapping[str, str]
    own_remark: Callable[[Row], str] = lambda _row: ""


DISHES = CostTable(dish_rows, DISH_COLUMNS, {
    "dish": "dish", "name": "name", "menu price": "menu_price", "food cost": "food_cost",
    "food cost %": "food_cost_percent", "target %": "target_food_cost_percent", "gross profit": "gross_profit",
    "labour": "labour_cost"}, lambda row: "above target" if row["within_target"] is False else "")
CUTS = CostTable(cut_rows, CUT_COLUMNS, {
    "cut": "cut", "name": "name", "role": "role", "yield": "yield", "material / kg": "material_cost_per_kg",
    "labour / kg": "labour_cost_per_kg", "cost / kg": "cost_per_kg", "factor": "cost_factor",
    "market value": "market_value"})
RECIPES = CostTable(recipe_rows, RECIPE_COLUMNS, {
    "recipe": "recipe", "name": "name", "makes": "makes_quantity", "unit": "makes_unit", "whole": "cost",
    "per unit": "cost_per_unit"})


@click.group()
def costs() -> None:
    """Show what dishes, cuts and recipes cost, today or on any day."""


def reading_flags(command: Command) -> Command:
    """`--as-of`, `--known-at`, `--csv` and `--database`."""
    flags = (
        click.option("--as-of", type=click.DateTime(["%Y-%m-%d"]), metavar="DAY",
                     help="The day, as 2026-11-25. [unless set: today]"),
        click.option("--known-at", type=click.IntRange(min=0), metavar="REVISION",
                     help="As it was known at a revision. [unless set: the latest]"),
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
    _show(DISHES, as_of, known_at, as_csv, database)


@costs.command()
@reading_flags
def cuts(as_of: datetime | None, known_at: int | None, as_csv: bool, database: str | None) -> None:
    """What each cut and trim costs per kilogram."""
    _show(CUTS, as_of, known_at, as_csv, database)


@costs.command()
@reading_flags
def recipes(as_of: datetime | None, known_at: int | None, as_csv: bool, database: str | None) -> None:
    """What each recipe costs, whole and per unit that it makes."""
    _show(RECIPES, as_of, known_at, as_csv, database)


def snapshot_of(ledger: Ledger, as_of: datetime | None = None, known_at: int | None = None) -> Snapshot:
    """The figures of a day (today), as known at a revision (the latest).

    Raises:  WrongValue for a revision above the latest.
    """
    day = None if as_of is None else as_of.date()
    return Snapshots(ledger).at(position_asked(ledger, ledger.head(), ledger.today(), day, known_at, costs_only=False))


def table_of(of: CostTable, snapshot: Snapshot) -> str:
    """The table as text, and below it what is missing."""
    rows = of.rows(snapshot)
    lines = [[_cell(row, member) for member in of.shown.values()] + [_remark(row, of.own_remark(row))] for row in rows]
    return "\n".join([text_table([*of.shown, "remark"], lines), *_missing(rows, next(iter(of.shown.values())))])


def _show(of: CostTable, as_of: datetime | None, known_at: int | None, as_csv: bool, database: str | None) -> None:
    with operating.opened_ledger(settings_of(database)) as ledger:
        snapshot = snapshot_of(ledger, as_of, known_at)
        if as_csv:
            click.echo(csv_bytes(of.csv_columns, of.rows(snapshot)), nl=False)
            return
        position, currency = snapshot.position, snapshot.kitchen.settings.currency
        click.echo(f"As of {position.day}, as known at revision {position.revision}, in {currency}\n")
        click.echo(table_of(of, snapshot))


def _missing(rows: Sequence[Row], code: str) -> list[str]:
    """Each thing that is missing, once, and how many figures wait for it."""
    waiting: dict[str, list[str]] = {}
    for row in rows:
        for gap in row["gaps"]:
            waiting.setdefault(gap["detail"], []).append(row[code])
    lines = [f"- {detail} ({', '.join(codes[:3])}{f' and {len(codes) - 3} more' * (len(codes) > 3)})"
             for detail, codes in waiting.items()]
    return ["", "Missing:", *lines] if lines else []


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
