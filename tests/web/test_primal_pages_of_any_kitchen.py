"""The pages of primals as documents and as HTML, of any kitchen: nothing that is missing stops them.

Judges: the API's own documents of the same snapshot; sums by hand beside their checks; WCAG 2.2, 1.3.1 and 2.4.6 for
the headings.
"""

import re
from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from service.domain.breakdown import BreakdownInput, YieldsFrom
from service.domain.chains import chains
from service.domain.errors import NotFound
from service.domain.history import Mark
from service.domain.kitchen import KitchenOnDay
from service.use_cases.read_breakdown_comparison import read_breakdown_comparison
from service.use_cases.read_cutting_sheet import read_cutting_sheet
from service.use_cases.read_primal_page import read_primal_page
from service.use_cases.read_primals import read_primals
from service.web.site_making import make_site
from tests.builders import (
    a_breakdown,
    a_by_product,
    a_dish,
    a_line,
    a_loss,
    a_main,
    a_primal,
    a_seamed_topside,
    a_topside_kitchen,
    a_yield_test,
    some_trim,
)
from tests.kitchens import kitchens
from tests.use_cases.test_cost_rows import snapshot_of
from tests.web.test_docs_pages import Page

RENDER = make_site().render
OF_A_PAGE = {"as_of": "2026-03-02", "revision": 7, "path": "/primals", "at": ""}
WEIGHED = (("0.10", "0.60", "0.18", "0.06", "0.04"),) * 4 + (("0.10", "0.60", "0.12", "0.06", "0.10"),) * 4
"""Eight tests of a topside: in the later four, trim is down by 6 points and silverskin up by as many."""


def rendered(name: str, document: dict[str, Any]) -> str:
    return RENDER(name, OF_A_PAGE | document).decode()


def eight_tests(scatter: tuple[str, ...] = ("0", "0.001", "0.002", "0.001")) -> list[Any]:
    cuts = [output.cut for output in a_seamed_topside().outputs]
    return [a_yield_test("1", dict(zip(cuts, [str(Decimal(weights[0]) - Decimal(scatter[place % 4])), *weights[1:]],
                                       strict=True)), tested_on=day_of(place), made=Mark(place + 1, 1))
            for place, weights in enumerate(WEIGHED)]


def day_of(place: int) -> date:
    return date(2026, 1, 6 + place)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(kitchens())
def test_whatever_is_missing_every_page_is_whole(kitchen: KitchenOnDay) -> None:
    snapshot = snapshot_of(kitchen)
    assert Page(rendered("primals", read_primals(snapshot))).open == []
    for code, breakdowns in chains(kitchen).items():
        for breakdown in breakdowns if code in kitchen.ingredients else ():
            document = read_primal_page(snapshot, code, breakdown.code)
            page = Page(rendered("primal", document))
            assert (page.open, page.inline) == ([], [])
            assert len(page.ids) == len(set(page.ids))
            assert page.headings[0] == 1
            assert all(below <= above + 1 for above, below in pairwise(page.headings))
            assert [line["yield"] for line in document["sheet"]["outputs"]] == [
                line["yield"] for line in read_cutting_sheet(snapshot, breakdown.code)["outputs"]]


def test_the_three_ways_are_those_of_the_comparison_and_each_conserves_cost() -> None:
    snapshot = snapshot_of(a_topside_kitchen())
    ways = read_primal_page(snapshot, "beef-topside")["ways"]
    compared = read_breakdown_comparison(snapshot, "topside-seamed")
    methods = {each["method"]: each["cuts"] for each in compared["methods"]}
    for column, method in (("weight", "weight"), ("by_market_value", "market_value")):
        assert [cut[column] for cut in ways["cuts"]] == [cut["cost_per_kg"] for cut in methods[method]]
    yields = {output.cut: output.expected_yield for output in a_seamed_topside().outputs}
    for column in ("weight", "by_market_value", "rest"):
        carried = sum(Decimal(cut[column]) * yields[cut["cut"]] for cut in ways["cuts"])
        assert abs(carried - Decimal("15.40")) < Decimal("0.0001")  # 14.20 + 1.20 - 0.072 + 0.18 x 0.40


def test_loss_up_while_trim_is_down_is_said_and_what_a_point_of_lean_costs() -> None:
    kitchen = a_topside_kitchen(*eight_tests(), replace(a_seamed_topside(), yields_from=YieldsFrom.TESTS))
    document = read_primal_page(snapshot_of(kitchen), "beef-topside")
    assert document["yields"]["reading"][0]["text"].startswith("Loss up while trim is down")
    text = rendered("primal", document)
    assert "lean goes into the bin" in text
    lean = document["lean"]["all_lean"]
    assert abs(Decimal(lean["value_per_year"]) - 100 * Decimal(lean["value_per_kg_of_input"])) <= Decimal("0.005")
    assert "for every 100 kg" in text


def test_points_outside_the_limits_and_in_a_run_are_marked_in_words() -> None:
    """Eight tests about one mean and then eight about another lie on two sides of the centre of all."""
    cuts = ("topside-cap", "topside-roast")
    plan = a_breakdown(a_main(cuts[0], "0.2", "16"), a_main(cuts[1], "0.7", "17"), yields_from=YieldsFrom.TESTS)
    tests = [a_yield_test("1", {cuts[0]: first, cuts[1]: "0.7"}, tested_on=day_of(place), made=Mark(place + 1, 1))
             for place, first in enumerate(["0.20", "0.21"] * 4 + ["0.25", "0.26"] * 4)]
    charts = read_primal_page(snapshot_of(a_topside_kitchen(plan, *tests)), "beef-topside")["yields"]["charts"]
    marks = [point["mark"] for point in charts[0]["points"]]
    assert set(marks) <= {"run", "outside"}
    assert [float(point["percent"]) for point in charts[0]["points"]] == [20, 21] * 4 + [25, 26] * 4
    assert "eight running on one side" in charts[0]["in_words"]
    assert {point["mark"] for point in charts[1]["points"]} == {""}


def test_the_list_says_what_is_usable_how_sure_and_whether_breaking_pays() -> None:
    """Usable is 0.10 + 0.60 + 0.18; value 0.1 x 16 + 0.6 x 17 + 0.18 x 9 + 0.072 less 0.072 and 1.20 is 12.22."""
    rows = read_primals(snapshot_of(a_topside_kitchen()))["primals"][0]["breakdowns"]
    assert {"usable": "88.00", "give_or_take": None, "tests": 0, "input_cost": "14.2000", "value": "12.2200",
            "saved": "-1.9800", "cheaper": "buying"}.items() <= rows[0].items()


def test_how_sure_what_is_usable_is_comes_from_the_tests() -> None:
    """Ratios 0.90 and 0.92 of equal weights: standard error 0.01, and t of one degree of freedom is 12.7062."""
    plan = a_breakdown(a_main("roast", "0.8", "17"), some_trim("ends", "0.1", "9"), a_loss("waste", "0.1"),
                       yields_from=YieldsFrom.TESTS)
    tests = [a_yield_test("1", {"roast": roast, "ends": "0.1", "waste": "0.05"}, tested_on=day_of(place),
                          made=Mark(place + 1, 1)) for place, roast in enumerate(("0.80", "0.82"))]
    row = read_primals(snapshot_of(a_topside_kitchen(plan, *tests)))["primals"][0]["breakdowns"][0]
    assert (row["usable"], row["give_or_take"], row["tests"]) == ("91.00", "12.71", 2)


def test_a_breakdown_of_a_cut_is_shown_under_what_was_bought_and_by_its_own_sheet() -> None:
    steaks = a_breakdown(a_main("steak", "0.8", "20"), a_by_product("rind", "0.1", "2"), code="cap-steaked",
                         input=BreakdownInput(cut="topside-cap"), name="Cap, steaked")
    snapshot = snapshot_of(a_topside_kitchen(steaks))
    document = read_primal_page(snapshot, "beef-topside", "cap-steaked")
    assert [each["code"] for each in document["breakdowns"]] == ["topside-seamed", "cap-steaked"]
    assert document["sheet"]["breakdown"] == "cap-steaked"
    assert document["flow"]["breakdown"] == "Topside, seamed"
    assert [row["of"] for row in read_primals(snapshot)["primals"][0]["breakdowns"]] == [None, "topside-cap"]


def test_what_is_not_broken_down_or_not_by_that_is_refused_with_what_there_is() -> None:
    snapshot = snapshot_of(a_topside_kitchen(a_primal("veal")))
    with pytest.raises(NotFound, match="No breakdown takes veal apart"):
        read_primal_page(snapshot, "veal")
    with pytest.raises(NotFound, match="there are topside-seamed"):
        read_primal_page(snapshot, "beef-topside", "other")
    with pytest.raises(NotFound, match="no ingredient 'gone'"):
        read_primal_page(snapshot, "gone")


def test_a_breakdown_whose_input_nothing_makes_is_told_and_stands_under_no_primal() -> None:
    loose = a_breakdown(a_main("x", "0.5"), code="loose", input=BreakdownInput(cut="never-cut"))
    document = read_primals(snapshot_of(a_topside_kitchen(loose)))
    assert [(each["code"], each["of"]) for each in document["loose"]] == [("loose", "never-cut")]
    assert re.search("Starting from nothing that is bought or made: .*never-cut", rendered("primals", document))


def test_dishes_stand_in_the_order_in_which_a_rise_takes_them_out() -> None:
    dishes = [a_dish(code, a_line("cut topside-roast", "0.2"), menu_price=price)
              for code, price in (("dear", "40"), ("cheap", "9"), ("middling", "30"))]
    impact = read_primal_page(snapshot_of(a_topside_kitchen(*dishes)), "beef-topside")["impact"]
    assert [dish["dish"] for dish in impact["dishes"]] == ["cheap", "middling", "dear"]
    assert impact["first"]["dish"] == "middling"
    assert impact["summary"]["first_leaves_at"] == impact["first"]["leaves_at"]
