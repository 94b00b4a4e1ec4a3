"""The demo kitchen explained: every working adds up, ends in the row's figures, and names revisions that are there."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from service import operating
from service.domain.errors import NotFound
from service.domain.history import Mark
from service.domain.working_sheet import as_text
from service.settings import Settings
from service.use_cases.cost_rows import cut_rows, dish_rows, recipe_rows
from service.use_cases.explain_cost import cut_working, dish_working, recipe_working
from service.use_cases.ports import Ledger
from service.use_cases.position import Position
from service.use_cases.read_cutting_sheet import read_cutting_sheet
from service.use_cases.read_yield_statistics import yield_statistics
from service.use_cases.snapshot import Snapshot
from service.use_cases.snapshots import Snapshots
from tests.adding_up import every_step, faults_of

Explained = list[tuple[dict[str, Any], dict[str, Any], str]]


@contextmanager
def opened(file: Path) -> Iterator[tuple[Ledger, Snapshot]]:
    with operating.opened_ledger(Settings(database_url=f"sqlite:///{file}")) as ledger:
        head = ledger.head()
        position = Position(head.figures_revision, head.figures_hash, head.on_date)
        yield ledger, Snapshots(ledger).at(position)


@pytest.fixture(scope="module")
def explained(loaded_demo: Path) -> Explained:
    """Every dish, cut and recipe of the demo: its row, its working and its sheet."""
    with opened(loaded_demo) as (ledger, snapshot):
        kitchen = ledger.kitchen(snapshot.position.revision)
        found = [(row, dish_working(kitchen, snapshot, row["dish"])) for row in dish_rows(snapshot)]
        found += [(row, cut_working(kitchen, snapshot, row["cut"])) for row in cut_rows(snapshot)]
        found += [(row, recipe_working(kitchen, snapshot, row["recipe"])) for row in recipe_rows(snapshot)]
        return [(row, working.as_document(), as_text(working)) for row, working in found]


def test_every_working_adds_up_and_ends_in_the_figures_of_the_row(explained: Explained) -> None:
    assert len(explained) > 40
    for row, document, _ in explained:
        assert faults_of(document) == []
        figures = {figure["figure"]: figure["published"] for figure in document["figures"]}
        assert None not in figures.values()
        assert figures == {name: row[name] for name in figures}
        assert (document["revision"], document["as_of"]) == (row["revision"], row["as_of"])


def test_every_step_names_a_revision_that_recorded_what_it_rests_on(explained: Explained, loaded_demo: Path) -> None:
    with opened(loaded_demo) as (ledger, _):
        entries = ledger.entries(Mark(0, 0), 5_000, ledger.head().revision)
        made = {(entry.mark.revision, entry.kind, entry.code) for entry in entries}
    kinds = {"yield_tests": "yield_test"}
    records = [step["record"] for _, document, _ in explained for step in every_step(document)]
    named = {(record["revision"], kinds.get(record["kind"], record["kind"]), record["code"]) for record in records}
    assert len(named) > 80
    assert named <= made


def test_a_dish_is_followed_down_to_suppliers_prices(explained: Explained) -> None:
    for row, document, sheet in explained:
        prices = {(step["record"]["amount"], step["record"]["supplier_name"]) for step in every_step(document)
                  if step["record"]["kind"] == "price"}
        assert prices or "credit" in sheet, row
        assert all(f"{amount} for " in sheet and supplier in sheet for amount, supplier in prices)


def test_the_cap_steak_comes_from_the_topside_through_its_cap(loaded_demo: Path) -> None:
    with opened(loaded_demo) as (_, snapshot):
        sheet = read_cutting_sheet(snapshot, "cap-trimmed")
    steak = next(output for output in sheet["outputs"] if output["cut"] == "cap-steak")
    assert (sheet["ingredient"], sheet["input"], sheet["piece_weight_basis"]) == (
        "beef-topside", {"cut": "topside-cap"}, "yield_tests")
    assert 0 < float(sheet["input_kg_per_piece"]) < float(sheet["piece_weight_kg"])
    assert steak["portions_per_piece"] * 0.170 + float(steak["tail_kg"]) == pytest.approx(
        float(steak["kg_per_piece"]), abs=0.0002)
    assert float(steak["cost_per_portion_tail_lost"]) >= float(steak["cost_per_portion"])
    assert steak["tests"] >= 6


def test_the_row_of_a_cut_and_its_cutting_sheet_say_the_same(loaded_demo: Path) -> None:
    shared = ("portions_per_piece", "tail_kg", "kg_per_piece", "cost_per_portion", "cost_per_portion_tail_lost",
              "cost_per_kg", "yield", "uses")
    with opened(loaded_demo) as (_, snapshot):
        for row in cut_rows(snapshot):
            sheet = read_cutting_sheet(snapshot, row["breakdown"])
            line = next(output for output in sheet["outputs"] if output["cut"] == row["cut"])
            assert {name: row[name] for name in shared} == {name: line[name] for name in shared}


def test_the_statistics_of_the_topside_rest_on_its_tests(loaded_demo: Path) -> None:
    with opened(loaded_demo) as (ledger, snapshot):
        kitchen = ledger.kitchen(snapshot.position.revision)
        statistics = yield_statistics(kitchen, "topside-seamed", snapshot.position.day)
        sheet = read_cutting_sheet(snapshot, "topside-seamed")
    assert len(statistics["counting"]) == sheet["tests"] >= 6
    assert [output["yield"] for output in statistics["outputs"]] == [output["yield"] for output in sheet["outputs"]]


def test_what_does_not_stand_is_not_found(loaded_demo: Path) -> None:
    with opened(loaded_demo) as (ledger, snapshot):
        kitchen = ledger.kitchen(snapshot.position.revision)
        for working in (dish_working, cut_working, recipe_working):
            with pytest.raises(NotFound, match="no-such-thing"):
                working(kitchen, snapshot, "no-such-thing")
        with pytest.raises(NotFound, match="no-such-thing"):
            read_cutting_sheet(snapshot, "no-such-thing")
