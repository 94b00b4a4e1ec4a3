"""A breakdown that rests on some of its tests costs, explains and prints as one that never had the others."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from service.domain.breakdown import Breakdown, YieldsFrom
from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.cut_figures import CutSheet
from service.domain.cutting_sheet import cutting_sheet
from service.domain.explanation import explain_cut
from service.domain.history import Mark
from service.domain.kitchen import KitchenOnDay
from service.domain.workbook import live_workbook
from service.domain.yield_test import YieldTest
from service.use_cases.position import Position
from service.use_cases.read_workbook import workbook_source
from service.use_cases.snapshot import Snapshot
from tests.builders import (
    NEW_YEAR,
    a_dish,
    a_kitchen,
    a_line,
    a_price,
    a_primal,
    a_seamed_topside,
    a_yield_test,
)
from tests.recorded import recorded

DAY = date(2026, 6, 1)
SINCE = NEW_YEAR + timedelta(10)


def a_test(number: int, cap: str, roast: str) -> YieldTest:
    weights = {"topside-cap": cap, "topside-roast": roast, "topside-mince": "1.5", "topside-fat": "0.5",
               "topside-silverskin": "0.3"}
    return a_yield_test(f"8.{number}", weights, made=Mark(50 + number, 1), tested_on=NEW_YEAR + timedelta(9 + number))


TESTS = [a_test(0, "0.6", "4.4"), a_test(1, "0.8", "5"), a_test(2, "0.9", "4.9")]
ALL = a_seamed_topside(yields_from=YieldsFrom.TESTS)
CHOICES = [replace(ALL, yields_from_last_tests=2), replace(ALL, yields_from_tests_since=SINCE)]


def the_kitchen(breakdown: Breakdown, tests: list[YieldTest]) -> KitchenOnDay:
    plate = a_dish("plate", a_line("cut topside-cap", "0.25"), menu_price="22")
    return a_kitchen(a_primal(), a_price(), breakdown, plate, *tests, day=DAY)


def told(kitchen: KitchenOnDay) -> dict[str, Any]:
    """The costs of every cut, the working of the cap, the cutting sheet and the workbook."""
    known, costing = recorded(kitchen), cascade(compile_network(kitchen))
    sheet = CutSheet(kitchen, costing)
    snapshot = Snapshot.of(Position(known.revision, "", DAY), known, None)
    return {
        "costs": {code: sheet.figures(code).as_published() for code in sheet.cuts},
        "working": explain_cut("topside-cap", known, kitchen, costing).as_document(),
        "sheet": cutting_sheet("topside-seamed", kitchen, costing).as_published(),
        "workbook": live_workbook(workbook_source(snapshot, []), known.revision)}


@pytest.mark.parametrize("breakdown", CHOICES)
def test_tests_that_are_not_chosen_are_in_no_figure(breakdown: Breakdown) -> None:
    chosen, alone = told(the_kitchen(breakdown, TESTS)), told(the_kitchen(ALL, TESTS[1:]))
    assert chosen == alone
    assert chosen["costs"] != told(the_kitchen(ALL, TESTS))["costs"]
    assert chosen["costs"]["topside-cap"]["yield"] == f"{(0.8 + 0.9) / (8.1 + 8.2):.4f}"
