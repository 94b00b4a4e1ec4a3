"""Costs on the command line are the figures of the REST answers, and those of a judge that shares no code with them."""

import csv
import io
from collections.abc import Sequence
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from service import operating, wiring
from service.cli.demo_kitchen import next_monday
from service.settings import Settings
from service.use_cases.keys import create_key
from service.use_cases.ports import Asker
from tests.cli.conftest import Run
from tests.cli.naive_kitchen import NaiveKitchen


def to_four_places(value: Fraction) -> str:
    """Half away from zero; figures here are positive, so half up does it."""
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    return str(exact.quantize(Decimal("0.0001"), ROUND_HALF_UP))


def table_of(text: str) -> list[dict[str, str]]:
    """An aligned table read back: columns begin and end where the rule of hyphens says."""
    lines = text.splitlines()
    rule = next(number for number, line in enumerate(lines) if line.startswith("--"))
    ends = [index for index, character in enumerate(lines[rule] + " ") if character == " "][::2]
    starts = [0, *(end + 2 for end in ends)]
    spans = [(start, start + len(dashes)) for start, dashes in zip(starts, lines[rule].split(), strict=False)]
    headings = [lines[rule - 1][start:end].strip() for start, end in spans]
    rows = [line for line in lines[rule + 1:] if line]
    return [dict(zip(headings, (row[start:end].strip() for start, end in spans), strict=True)) for row in rows]


def csv_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def rows_equal(table: Sequence[dict[str, str]], rows: Sequence[dict[str, str]], same: dict[str, str]) -> bool:
    assert table
    return [[row[heading] for heading in same] for row in table] == [[row[name] for name in same.values()]
                                                                     for row in rows]


@pytest.mark.usefixtures("demo_file")
@pytest.mark.parametrize(("what", "same"), [
    ("dishes", {"dish": "dish", "menu price": "menu_price", "food cost": "food_cost", "labour": "labour_cost",
                "food cost %": "food_cost_percent", "gross profit": "gross_profit"}),
    ("cuts", {"cut": "cut", "yield": "yield", "material / kg": "material_cost_per_kg", "factor": "cost_factor"}),
    ("recipes", {"recipe": "recipe", "whole": "cost", "per unit": "cost_per_unit"}),
])
def test_the_table_and_the_csv_say_the_same(run: Run, what: str, same: dict[str, str]) -> None:
    assert rows_equal(table_of(run("costs", what).stdout), csv_of(run("costs", what, "--csv").stdout), same)


@pytest.mark.parametrize(("what", "path"), [
    ("dishes", "/v1/dish-costs"), ("cuts", "/v1/cut-costs"), ("recipes", "/v1/recipe-costs")])
def test_the_csv_is_that_of_the_service_byte_for_byte(run: Run, demo_file: Path, what: str, path: str) -> None:
    settings = Settings(database_url=f"sqlite:///{demo_file}")
    with operating.opened_ledger(settings) as ledger:
        key = create_key(ledger, "reader", ["read"], None, Asker("cli", "test", "1")).document["key"]
        answer = wiring.app_on(ledger, settings).test_client().get(
            path, headers={"Authorization": f"Bearer {key}", "Accept": "text/csv"})
        assert answer.status_code == 200
    assert run("costs", what, "--csv").stdout_bytes == answer.data


@pytest.mark.usefixtures("demo_file")
def test_a_plain_recursion_over_fractions_agrees_today_and_on_monday(run: Run) -> None:
    today = date.fromisoformat(run("costs", "dishes").stdout.split()[2].rstrip(","))
    for day in (today, next_monday(today), next_monday(today) - timedelta(days=1)):
        judge = NaiveKitchen.of_the_demo(today, day)
        rows = csv_of(run("costs", "dishes", "--csv", "--as-of", day.isoformat()).stdout)
        assert {row["dish"]: row["food_cost"] for row in rows} == {
            code: to_four_places(judge.food_cost(code)) for code in judge.records["dishes"]}


@pytest.mark.usefixtures("demo_file")
def test_nothing_was_known_before_the_first_revision(run: Run) -> None:
    assert csv_of(run("costs", "dishes", "--csv", "--known-at", "0").stdout) == []
    assert len(csv_of(run("costs", "dishes", "--csv").stdout)) == 12


@pytest.mark.usefixtures("demo_file")
def test_what_is_missing_is_said_and_not_a_zero(run: Run) -> None:
    before_any_price = run("costs", "dishes", "--as-of", "2025-12-31").stdout
    row = next(row for row in table_of(before_any_price.split("\nMissing:")[0]) if row["dish"] == "grilled-cap")

    assert row["food cost"].startswith(">= ")
    assert row["food cost %"] == ""
    assert "incomplete" in row["remark"]
    missing = before_any_price.split("\nMissing:")[1].splitlines()
    assert [line.count("beef-pie") for line in missing if line.startswith("- beef-topside has no price")] == [1]
