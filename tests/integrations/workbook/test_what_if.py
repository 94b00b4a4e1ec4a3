"""One yellow cell changed in a real spreadsheet program, and the same asked of the service: equal again, to the digit.

Every figure of every dish, cut and recipe is looked at, not only what should move.
"""

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

import pytest

from service.domain.breakdown import Breakdown, Method, YieldsFrom
from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.kitchen_settings import SectionTarget
from service.domain.scenario import NewPrice, NewVersion, Supposed, kitchen_under
from service.domain.workbook import live_workbook
from service.domain.workbook_source import WorkbookSource
from service.integrations.workbook.writing import workbook_bytes
from service.use_cases.figures_under import moved_dishes
from service.use_cases.snapshot import Snapshot
from service.use_cases.snapshots import Snapshots
from tests.integrations.workbook.judged import judged
from tests.integrations.workbook.live_program import Cells, LiveProgram
from tests.integrations.workbook.published_cells import DISHES, address_of, all_figures, rows_of

Changed = tuple[str, str, float | str | None]


@pytest.fixture
def opened(program: LiveProgram, demo: Snapshot) -> Iterator[Cells]:
    """The demo's workbook, open in the program."""
    source = WorkbookSource(demo.kitchen, demo.costing)
    yield program.opened(workbook_bytes(live_workbook(source, demo.position.revision)))
    program.close()


def hold_to_what_if(cells: Cells, snapshots: Snapshots, demo: Snapshot, changes: list[Supposed]) -> list[str]:
    """The workbook as changed says what the service says would be; the dishes that moved."""
    kitchen = kitchen_under(demo.recorded, changes).on(demo.position.day)
    figures = list(all_figures(cells, kitchen, cascade(compile_network(kitchen)), judged(kitchen)))
    assert [figure for figure in figures
            if not (figure.is_next_to if figure.near_a_tie else figure.agrees)] == []
    assert sum(figure.near_a_tie for figure in figures) < len(figures) / 10
    moved = moved_dishes(snapshots, demo.position, changes)
    rows = rows_of(cells, "Dishes")
    for dish in moved:
        assert dish.after is not None
        assert rows[dish.code]["Status"] == dish.after["status"]
        for name, header in DISHES.items():
            cell, told = rows[dish.code][header.format("GBP")], dish.after[name]
            assert cell == {"error": "#N/A"} if told is None else abs(Decimal(repr(cell)) - Decimal(told)) < Decimal(
                "0.00011"), (dish.code, name)
    return [dish.code for dish in moved]


def declared(breakdown: Breakdown, **yields: str) -> Breakdown:
    """The breakdown by declared yields, some of them other ones."""
    outputs = tuple(replace(output, expected_yield=Decimal(yields.get(output.cut.replace("-", "_"),
                                                                      str(output.expected_yield))))
                    for output in breakdown.outputs)
    return replace(breakdown, outputs=outputs, yields_from=YieldsFrom.DECLARED)


def test_a_dearer_primal_moves_every_dish_that_it_reaches_alike(
    program: LiveProgram, opened: Cells, snapshots: Snapshots, demo: Snapshot
) -> None:
    cells = program.changed([("Prices", address_of(opened, "Prices", "beef-topside", "Price, GBP"), 15.336)])
    supposed = NewPrice("beef-topside", "fenmoor", Decimal("15.336"), Decimal(1), "kg", demo.position.day)
    moved = hold_to_what_if(cells, snapshots, demo, [supposed])
    assert len(moved) > 3
    assert "grilled-cap" in moved


def test_another_declared_yield_moves_the_same(
    program: LiveProgram, opened: Cells, snapshots: Snapshots, demo: Snapshot
) -> None:
    cells = program.changed([("Cuts", address_of(opened, "Cuts", "topside-mince", "Yield, declared"), 0.91)])
    plan = declared(demo.kitchen.breakdowns["topside-minced"], topside_mince="0.91")
    moved = hold_to_what_if(cells, snapshots, demo, [NewVersion("breakdown", plan.code, plan, demo.position.day)])
    assert moved


def test_other_weights_in_the_tests_move_the_same_as_the_yields_that_they_come_to(
    program: LiveProgram, opened: Cells, snapshots: Snapshots, demo: Snapshot
) -> None:
    plan = declared(demo.kitchen.breakdowns["salmon-filleted"], salmon_centre="0.40", salmon_tail="0.16")
    at = address_of(opened, "Breakdowns", plan.code, "Paid for in tests, kg")
    weights = [("Cuts", address_of(opened, "Cuts", output.cut, "Weighed in tests, kg"),
                float(output.expected_yield) * 100) for output in plan.outputs]
    cells = program.changed([("Breakdowns", at, 100.0), *weights])
    moved = hold_to_what_if(cells, snapshots, demo, [NewVersion("breakdown", plan.code, plan, demo.position.day)])
    assert moved


def test_another_menu_price_moves_that_dish_alone(
    program: LiveProgram, opened: Cells, snapshots: Snapshots, demo: Snapshot
) -> None:
    cells = program.changed([("Dishes", address_of(opened, "Dishes", "grilled-cap", "Menu price, GBP"), 15.5)])
    dish = replace(demo.kitchen.dishes["grilled-cap"], menu_price=Decimal("15.50"))
    moved = hold_to_what_if(cells, snapshots, demo, [NewVersion("dish", dish.code, dish, demo.position.day)])
    assert moved == ["grilled-cap"]
    assert rows_of(cells, "Dishes")["grilled-cap"]["Within target"] == "no"


def test_another_labour_rate_moves_labour_alike(
    program: LiveProgram, opened: Cells, snapshots: Snapshots, demo: Snapshot
) -> None:
    row = next(row for row, values in enumerate(opened["About"], 1) if values[0] == "Labour rate per hour")
    cells = program.changed([("About", f"B{row}", 21.37)])
    settings = replace(demo.kitchen.settings, labour_rate_per_hour=Decimal("21.37"))
    moved = hold_to_what_if(cells, snapshots, demo, [NewVersion("settings", "settings", settings, demo.position.day)])
    assert len(moved) > 3


def test_another_target_of_a_section_moves_its_dishes_and_none_at_all_is_the_house_s(
    program: LiveProgram, snapshots: Snapshots, demo: Snapshot
) -> None:
    """Of the grill, one dish has a target of its own."""
    aimed = {percent: replace(demo.kitchen.settings, section_targets=(SectionTarget("grill", Decimal(percent)),))
             for percent in ("34", "26.5")}
    kitchen = replace(demo.kitchen, settings=aimed["34"])
    book = live_workbook(WorkbookSource(kitchen, cascade(compile_network(kitchen))), demo.position.revision)
    front = program.opened(workbook_bytes(book))["About"]
    at = f"B{next(row for row, values in enumerate(front, 1) if values[0] == 'Target food cost %, grill')}"
    cells = program.changed([("About", at, 26.5)])
    changes = [NewVersion("settings", "settings", aimed["26.5"], demo.position.day)]
    assert hold_to_what_if(cells, snapshots, demo, changes) == ["cap-steak-mushroom"]
    emptied = rows_of(program.changed([("About", at, None)]), "Dishes")
    program.close()
    assert [emptied[code]["Target %"] for code in ("cap-steak-mushroom", "roast-topside")] == [30, 30]


@pytest.mark.parametrize("method", list(Method))
@pytest.mark.parametrize("code", ["topside-seamed", "chicken-jointed", "cap-trimmed"])
def test_another_method_shares_alike_and_leaves_the_same_gaps(
    program: LiveProgram, opened: Cells, snapshots: Snapshots, demo: Snapshot, method: Method, code: str
) -> None:
    cells = program.changed([("Breakdowns", address_of(opened, "Breakdowns", code, "Shared by"), method.value)])
    plan = replace(demo.kitchen.breakdowns[code], method=method)
    moved = hold_to_what_if(cells, snapshots, demo, [NewVersion("breakdown", code, plan, demo.position.day)])
    before, after = rows_of(opened, "Dishes"), rows_of(cells, "Dishes")
    assert set(moved) == {dish for dish in before if before[dish] != after[dish]}


def test_an_emptied_price_is_not_known_up_to_every_dish_and_a_new_one_mends_it(
    program: LiveProgram, opened: Cells, snapshots: Snapshots, demo: Snapshot
) -> None:
    at = address_of(opened, "Prices", "beef-topside", "Price, GBP")
    emptied = rows_of(program.changed([("Prices", at, None)]), "Dishes")
    assert emptied["grilled-cap"]["Food cost, GBP"] == {"error": "#N/A"}
    assert emptied["grilled-cap"]["Target menu price"] == {"error": "#N/A"}
    assert emptied["grilled-cap"]["Status"] == "incomplete"
    dearer = NewPrice("beef-topside", "fenmoor", Decimal("15.336"), Decimal(1), "kg", demo.position.day)
    reached = {dish.code for dish in moved_dishes(snapshots, demo.position, [dearer])}
    assert {dish for dish, row in emptied.items() if row["Status"] == "incomplete"} == reached
    before = rows_of(opened, "Dishes")
    assert 0 < emptied["grilled-cap"]["Food cost at least"] < before["grilled-cap"]["Food cost at least"]
    again = program.changed([("Prices", at, 14.2)])
    assert rows_of(again, "Dishes")["grilled-cap"] == before["grilled-cap"]
    assert hold_to_what_if(again, snapshots, demo, []) == []
