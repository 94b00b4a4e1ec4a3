"""Opened and computed anew by a real spreadsheet program, a workbook says what the service says, to the digit.

The judge of what it should say is the tests' own: over the demo kitchen, and over random kitchens with every method,
edge and gap. Figures on a rounding tie, or within 1e-9 of one, are told apart and counted.
"""

import os
import re
from collections import Counter
from collections.abc import Iterable
from fractions import Fraction
from io import BytesIO
from typing import Any
from zipfile import ZipFile

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from python_calamine import CalamineWorkbook

from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.kitchen import KitchenOnDay
from service.domain.workbook import live_workbook
from service.domain.workbook_source import WorkbookSource
from service.integrations.workbook.writing import workbook_bytes
from service.use_cases.snapshot import Snapshot
from tests.integrations.workbook.judged import judged
from tests.integrations.workbook.live_program import Cells, LiveProgram
from tests.integrations.workbook.published_cells import FIRST_AT, HEADERS_AT, Figure, all_figures, rows_of
from tests.kitchens import kitchens

KITCHENS = int(os.environ.get("SEAMCOST_WORKBOOK_KITCHENS", "12"))
NO_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)
FEW = 0.1
"""Of all figures, the part that may lie on a tie: recorded amounts are round, so that a few in a hundred do."""

SEEN: Counter[str] = Counter()


def a_workbook(kitchen: KitchenOnDay) -> bytes:
    return workbook_bytes(live_workbook(WorkbookSource(kitchen, cascade(compile_network(kitchen))), 7))


def hold_to(figures: Iterable[Figure]) -> None:
    """Every figure is the judge's; one near a tie is at most one last digit off, and counted."""
    for figure in figures:
        SEEN["all"] += 1
        if figure.near_a_tie:
            SEEN["beyond" if figure.is_beyond else "near a tie"] += 1
            SEEN["rounded to the other side"] += not figure.agrees
            assert figure.is_next_to, figure
        else:
            assert figure.agrees, figure


def hold_within_target(cells: Cells, kitchen: KitchenOnDay, told: Any, near: set[str]) -> None:
    for code, row in rows_of(cells, "Dishes").items():
        within = told[f"dish {code}"]["within_target"]
        assert row["Status"] == told[f"dish {code}"]["status"]
        if code not in near:
            assert row["Within target"] == {True: "yes", False: "no", None: {"error": "#N/A"}}[within], code
    assert set(rows_of(cells, "Dishes")) == set(kitchen.dishes)


def hold_beside(file: bytes, cells: Cells) -> int:
    """The values that stand in the file beside the formulas of the working are what the program makes of them; how many
    there are. Published ones are held to the judge instead, each by itself."""
    held = 0
    for sheet, rows in stored_values(file).items():
        published = {place for place, band in enumerate(bands_of(rows)) if band.startswith("Figures")}
        for row, stored in enumerate(rows[FIRST_AT:], FIRST_AT):
            for column, value in enumerate(stored):
                if sheet != "Chart" and column not in published:
                    assert alike(value, cells[sheet][row][column]), (sheet, row, column, value)
                    held += 1
    assert errors_stored(file) == sum(isinstance(cell, dict) for rows in cells.values() for row in rows for cell in row)
    return held


def stored_values(file: bytes) -> Cells:
    """What a viewer shows that computes nothing, by another reader than the program."""
    book = CalamineWorkbook.from_filelike(BytesIO(file))
    return {sheet: book.get_sheet_by_name(sheet).to_python(skip_empty_area=False) for sheet in book.sheet_names}


def errors_stored(file: bytes) -> int:
    """How many cells are stored as #N/A: that reader shows them as nothing."""
    with ZipFile(BytesIO(file)) as parts:
        sheets = [parts.read(name) for name in parts.namelist() if name.startswith("xl/worksheets/sheet")]
    return sum(len(re.findall(rb't="e"><f>[^<]*</f><v>#N/A</v>', sheet)) for sheet in sheets)


def bands_of(rows: list[list[Any]]) -> list[str]:
    """What each column is for: the words above the headers hold until the next."""
    bands, last = [], ""
    for word in rows[HEADERS_AT - 1]:
        last = word or last
        bands.append(last)
    return bands


def alike(stored: Any, computed: Any) -> bool:
    """Whether two cells say the same, but for what binary numbers cannot say."""
    if isinstance(stored, int | float) and isinstance(computed, int | float):
        return abs(stored - computed) <= 1e-9 * max(1, abs(stored))
    return bool(stored == ("" if computed == {"error": "#N/A"} else computed))


def recalculated(program: LiveProgram, kitchen: KitchenOnDay) -> int:
    """Open the kitchen's workbook and hold all of it to the judge; how many cells it has."""
    costing, told, file = cascade(compile_network(kitchen)), judged(kitchen), a_workbook(kitchen)
    cells = program.opened(file)
    try:
        stored = all_figures(stored_values(file), kitchen, costing, told)
        assert [figure for figure in stored if not figure.agrees] == []
        figures = list(all_figures(cells, kitchen, costing, told))
        hold_to(figures)
        near = {figure.where.rpartition(" ")[2] for figure in figures
                if figure.near_a_tie and figure.where.startswith("food_cost_percent")}
        hold_within_target(cells, kitchen, told, near)
        return hold_beside(file, cells)
    finally:
        program.close()


def test_the_demo_says_in_a_spreadsheet_what_the_service_says(program: LiveProgram, demo: Snapshot) -> None:
    cells = recalculated(program, demo.kitchen)
    assert cells > 4_000
    assert SEEN["all"] > 500


@pytest.mark.timeout(600 + 10 * KITCHENS)
@settings(max_examples=KITCHENS, deadline=None, phases=NO_SHRINKING, suppress_health_check=list(HealthCheck))
@given(kitchen=kitchens())
def test_random_kitchens_say_in_a_spreadsheet_what_the_judge_says(program: LiveProgram, kitchen: KitchenOnDay) -> None:
    assert recalculated(program, kitchen) > 0


def test_few_figures_lie_on_a_tie_and_they_were_counted() -> None:
    assert SEEN["all"] > 500, "the tests above have looked at figures"
    assert SEEN["near a tie"] <= FEW * SEEN["all"], SEEN
    assert SEEN["rounded to the other side"] <= SEEN["near a tie"] + SEEN["beyond"]


def test_a_figure_that_is_a_digit_off_would_be_seen() -> None:
    exact = Fraction("4.18984")
    off = [Figure("food cost", cell, "4.1898", exact, 4) for cell in (4.1898, 4.1899, 4.18984, "", {"error": "#N/A"})]
    assert [figure.agrees for figure in off] == [True, False, False, False, False]
    tie = Figure("food cost", 4.1898, "4.1899", Fraction("4.18985"), 4)
    assert tie.near_a_tie
    assert tie.is_next_to
    assert not Figure("food cost", 4.1897, "4.1899", Fraction("4.18985"), 4).is_next_to
