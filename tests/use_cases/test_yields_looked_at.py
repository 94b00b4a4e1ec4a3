"""Yield statistics as they go out: of a part of the tests and group by group, the rules, the trend, the reading.

The figures themselves are judged where they are made; here it is held of which tests they are, and in which words."""

from datetime import date, timedelta
from typing import Any

import pytest

from service.domain.breakdown import Breakdown, YieldsFrom
from service.domain.history import Mark
from service.domain.yield_part import Part
from service.domain.yield_test import YieldTest
from service.use_cases.read_yield_statistics import yield_statistics
from service.use_cases.read_yield_tests import yield_tests
from tests.builders import a_breakdown, a_kitchen, a_loss, a_main, a_yield_test, some_trim
from tests.recorded import recorded

FIRST, LATER = date(2026, 1, 1), date(2026, 12, 1)
OUTPUTS = (a_main("round", "0.70"), some_trim("dice", "0.18"), a_loss("skin", "0.08"))


def a_plan(**facts: Any) -> Breakdown:
    return a_breakdown(*OUTPUTS, yields_from=YieldsFrom.TESTS, **facts)


def a_test(number: int, cut: str = "70", trim: str = "18", skin: str = "8", **facts: Any) -> YieldTest:
    """Test `number`-1, thirty days after the one before it."""
    return a_yield_test("100", {"round": cut, "dice": trim, "skin": skin}, made=Mark(number, 1),
                        tested_on=FIRST + timedelta(30 * (number - 1)), **facts)


def read(*tests: YieldTest, plan: Breakdown | None = None, day: date = LATER, **asked: Any) -> dict[str, Any]:
    return yield_statistics(recorded(a_kitchen(plan or a_plan(), *tests)), "topside-seamed", day, **asked)


def of(document: dict[str, Any], cut: str) -> dict[str, Any]:
    return next(output for output in document["outputs"] if output["cut"] == cut)


def said(document: dict[str, Any]) -> list[tuple[str, str | None]]:
    return [(reading["code"], reading["cut"]) for reading in document["reading"]]


BY_TWO = [a_test(1, "70", butcher="block 1", supplier="fenmoor"), a_test(2, "60", butcher="block 2", grade="R4"),
          a_test(3, "72", butcher="block 1"), a_test(4, "64", butcher="block 2", supplier="fenmoor")]


def test_statistics_of_one_butcher_are_those_of_that_butchers_tests_alone() -> None:
    part = read(*BY_TWO, part=Part(butcher="block 1"))
    alone = read(BY_TWO[0], BY_TWO[2])
    assert part["part"] == {"butcher": "block 1", "supplier": None, "grade": None, "tests": 2, "of_tests": 4}
    assert alone["part"] is None
    for cut in ("round", "dice", "skin"):
        assert {**of(part, cut), "yield": ""} == {**of(alone, cut), "yield": ""}
    assert part["unaccounted_statistics"] == alone["unaccounted_statistics"]
    assert (of(part, "round")["yield"], of(alone, "round")["yield"]) == ("0.6650", "0.7100")
    assert [test["test"] for test in part["counting"]] == ["1-1", "2-1", "3-1", "4-1"]


@pytest.mark.parametrize(("part", "tests"), [
    (Part(supplier="fenmoor"), 2), (Part(grade="R4"), 1), (Part(grade=""), 3),
    (Part(butcher="block 2", supplier="fenmoor"), 1), (Part(butcher="block 3"), 0)])
def test_tests_are_looked_at_by_supplier_and_grade_too(part: Part, tests: int) -> None:
    document = read(*BY_TWO, part=part)
    assert (document["part"]["tests"], of(document, "round")["tests"]) == (tests, tests)


def test_groups_stand_side_by_side_and_those_that_name_none_come_last() -> None:
    groups = read(*BY_TWO, by="supplier")["groups"]
    assert [(group["value"], group["tests"]) for group in groups] == [("fenmoor", 2), (None, 2)]
    rounds = {group["value"]: group["outputs"][0] for group in read(*BY_TWO, by="butcher")["groups"]}
    for butcher, ratio in (("block 1", "0.7100"), ("block 2", "0.6200")):
        alone = of(read(*BY_TWO, part=Part(butcher=butcher)), "round")
        assert rounds[butcher] == {name: alone[name] for name in rounds[butcher]}
        assert rounds[butcher]["ratio"] == ratio
    assert read(*BY_TWO)["groups"] is None


def test_tests_that_the_breakdown_does_not_choose_are_shown_with_the_reason() -> None:
    last = read(*BY_TWO, plan=a_plan(yields_from_last_tests=3))
    assert [test["test"] for test in last["counting"]] == ["2-1", "3-1", "4-1"]
    assert last["not_chosen"] == [{"test": "1-1", "tested_on": "2026-01-01",
                                   "reason": "The breakdown rests on the last 3 tests."}]
    since = read(*BY_TWO, plan=a_plan(yields_from_tests_since=date(2026, 3, 2)))
    assert [test["test"] for test in since["not_chosen"]] == ["1-1", "2-1"]
    assert since["not_chosen"][0]["reason"] == "The breakdown rests on tests made since 2026-03-02."
    assert (since["yields_from_tests_since"], since["yields_from_last_tests"]) == ("2026-03-02", None)


def test_a_listed_test_says_that_it_is_not_chosen() -> None:
    kitchen = recorded(a_kitchen(a_plan(yields_from_last_tests=1), *BY_TWO))
    rows = yield_tests(kitchen, "topside-seamed", LATER, "", 10).data
    assert [row["id"] for row in rows if row["counts"]] == ["4-1"]


def test_a_rule_says_at_which_test_it_fired_on_which_side_and_since_when() -> None:
    low, high = ("66", "68"), ("74", "72")
    tests = [a_test(number, weight) for number, weight in enumerate((*low * 4, *high * 4), 1)]
    rules = of(read(*tests, day=date(2027, 12, 1)), "round")["rules"]
    assert rules == [{"rule": "eight_on_one_side"} | rule for rule in (
        {"test": "8-1", "tested_on": "2026-07-30", "side": "below", "since": "2026-01-01"},
        {"test": "16-1", "tested_on": "2027-03-27", "side": "above", "since": "2026-08-29"})]


def test_a_trend_is_told_for_thirty_days_with_its_error() -> None:
    """70, 71, 73, 74 % thirty days apart: slope 1.4; residuals 0.1, -0.3, 0.3, -0.1; sqrt(0.2 / 2 / 5) = 0.141421;
    t for two degrees of freedom 4.302653: by hand, in percent."""
    trend = of(read(*(a_test(n, weight) for n, weight in enumerate(("70", "71", "73", "74"), 1))), "round")["trend"]
    assert trend == {"per_30_days": "0.014000", "standard_error": "0.001414",
                     "interval_95": ["0.007915", "0.020085"], "excludes_zero": True}
    assert of(read(a_test(1), a_test(2, "71")), "round")["trend"] is None


def test_what_is_unaccounted_for_has_a_chart_of_its_own() -> None:
    document = read(a_test(1), a_test(2, "68"), a_test(3, "71"))
    chart = document["unaccounted_statistics"]["control_chart"]
    assert [point["yield"] for point in chart["points"]] == ["0.0400", "0.0600", "0.0300"]
    assert (chart["centre"], chart["mean_moving_range"], chart["upper_limit"]) == ("0.0433", "0.0250", "0.1098")


def test_lean_in_the_bin_is_said_in_those_words_and_first() -> None:
    careful, hasty = ("70", "18", "8"), ("70", "16", "10")
    document = read(*(a_test(n, *cuts) for n, cuts in enumerate((*(careful,) * 4, *(hasty,) * 4), 1)))
    assert document["reading"][0] == {
        "code": "lean_into_the_bin", "cut": None, "test": None, "tested_on": None,
        "text": "Loss up while trim is down is the sign that lean goes into the bin: from the tests of 2026-01-01 to "
                "2026-04-01 to those of 2026-05-01 to 2026-07-30, loss (what is unaccounted for too) went from 12.00 % "
                "to 14.00 %, trim from 18.00 % to 16.00 %."}


def test_the_reading_names_the_output_the_test_and_the_limit() -> None:
    steady = [a_test(number, weight) for number, weight in enumerate(("70", "70.2") * 5, 1)]
    document = read(*steady, a_test(11, "66"))
    told = next(reading for reading in document["reading"] if reading["code"] == "outside_limits")
    chart = of(document, "round")["control_chart"]
    limit = f"{float(chart['lower_limit']) * 100:.2f}"
    assert (told["cut"], told["test"], told["tested_on"]) == ("round", "11-1", "2026-10-28")
    assert told["text"] == f"round: test 11-1 of 2026-10-28 gave 66.00 %, below the limit of {limit} %."
    assert ("outside_limits", None) in said(document)


@pytest.mark.parametrize(("tests", "told"), [(0, True), (1, True), (7, True), (8, False)])
def test_few_tests_are_said_to_be_few(tests: int, told: bool) -> None:
    assert (("few_tests", None) in said(read(*map(a_test, range(1, tests + 1))))) is told


def test_the_day_asked_for_decides_which_tests_are_looked_at() -> None:
    document = read(*BY_TWO, day=BY_TWO[2].tested_on, part=Part(butcher="block 2"))
    assert (of(document, "round")["tests"], document["part"]["of_tests"]) == (1, 3)


def test_where_no_test_counts_it_is_not_said_that_there_is_none() -> None:
    """Nobody at block 3 has cut yet, and no test since the new supplier: the tests before are there all the same."""
    waiting = a_plan(yields_from_tests_since=LATER)
    for document in (read(*BY_TWO, part=Part(butcher="block 3")), read(*BY_TWO, plan=waiting)):
        [few] = [reading["text"] for reading in document["reading"] if reading["code"] == "few_tests"]
        assert document["counting"] or document["not_chosen"]
        assert few == "No test counts here: nothing says how far the yields can be trusted."
