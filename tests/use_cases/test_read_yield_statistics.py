"""Statistics of yield tests as they go out, against the handbook's chart and figures worked by hand."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from service.domain.breakdown import YieldsFrom
from service.domain.errors import NotFound
from service.domain.history import Mark
from service.domain.yield_test import YieldTest
from service.use_cases.read_yield_statistics import yield_statistics
from tests.builders import A_DAY, NEW_YEAR, WITHDRAWN, a_breakdown, a_kitchen, a_loss, a_main, a_yield_test
from tests.recorded import recorded

FLOW_RATES = ("49.6", "47.6", "49.9", "51.3", "47.8", "51.2", "52.6", "52.4", "53.6", "52.1")
PLAN = a_breakdown(a_main("cap", "0.5"), a_loss("rest", "0.5"), yields_from=YieldsFrom.TESTS)


def a_test(cap: str, rest: str, number: int = 1, input_weight: str = "100", **facts: Any) -> YieldTest:
    return a_yield_test(input_weight, {"cap": cap, "rest": rest}, made=Mark(number, 1), **facts)


def read(*tests: YieldTest, day: date = A_DAY) -> dict[str, Any]:
    return yield_statistics(recorded(a_kitchen(PLAN, *tests)), "topside-seamed", day)


def of_cap(document: dict[str, Any]) -> dict[str, Any]:
    return next(output for output in document["outputs"] if output["cut"] == "cap")


def test_an_individuals_chart_of_the_handbook_comes_out_in_yields() -> None:
    """Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: ten flow rates, mean 50.81, mean moving range
    1.8778, limits 45.816 and 55.805 (here with 2.66, as hundredths of a kg in 100)."""
    tests = [a_test(rate, "0", number, tested_on=NEW_YEAR + timedelta(number))
             for number, rate in enumerate(FLOW_RATES, 1)]
    chart = of_cap(read(*tests))["control_chart"]
    assert (chart["centre"], chart["mean_moving_range"], chart["lower_limit"], chart["upper_limit"]) == (
        "0.5081", "0.0188", "0.4582", "0.5580")
    assert [point["test"] for point in chart["points"]] == [f"{number}-1" for number in range(1, 11)]
    assert chart["outside"] == []


def test_a_test_that_stands_out_is_named() -> None:
    steady = [a_test(cap, "49", number, tested_on=NEW_YEAR + timedelta(number))
              for number, cap in enumerate(("50", "50.1", "50", "50.1", "50", "50.1", "50"), 1)]
    document = read(*steady, a_test("42", "57", 8, tested_on=NEW_YEAR + timedelta(8)))
    assert of_cap(document)["control_chart"]["outside"] == ["8-1"]


def test_a_yield_is_the_ratio_of_sums_with_its_error() -> None:
    """4 of 10 and 12 of 20: 16/30. Residuals -4/3 and 4/3: sqrt(2 x 16/9 / 2) / 15 is 0.0889; t for one is 12.706."""
    cap = of_cap(read(a_test("4", "6", 1, "10"), a_test("12", "8", 2, "20")))
    assert (cap["tests"], cap["ratio"], cap["yield"], cap["standard_error"]) == (2, "0.5333", "0.5333", "0.0889")
    assert cap["interval_95"] == ["-0.5961", "1.6628"]


def test_every_test_is_said_to_count_or_why_not() -> None:
    counting = a_test("50", "50", 1)
    aside = replace(a_test("40", "60", 2), set_aside=WITHDRAWN)
    other = a_yield_test("100", {"cap": "50", "bone": "20"}, made=Mark(3, 1))
    later = a_test("60", "40", 4, tested_on=A_DAY + timedelta(1))
    document = read(counting, aside, other, later)
    assert [test["test"] for test in document["counting"]] == ["1-1"]
    assert document["set_aside"] == [{"test": "2-1", "tested_on": "2026-01-05", "reason": "a slip of the pen"}]
    assert document["set_aside_by_itself"] == [
        {"test": "3-1", "tested_on": "2026-01-05", "not_weighed": ["rest"], "not_listed": ["bone"]}]
    assert [test["test"] for test in document["not_yet_made"]] == ["4-1"]


def test_purge_is_told_apart_from_what_is_lost_at_the_block() -> None:
    document = read(a_test("50", "44", opened_weight="96"))
    assert document["draining"] == {"tests": 1, "purge": "0.0400", "cutting_loss": "0.0200"}
    assert document["unaccounted"] == "0.0600"


def test_without_a_test_the_declared_yields_stand() -> None:
    document = read()
    assert (document["yield_basis"], of_cap(document)["yield"], of_cap(document)["control_chart"]) == (
        "declared", "0.5000", None)


def test_a_breakdown_that_does_not_stand_is_not_found() -> None:
    with pytest.raises(NotFound, match="rump-seamed"):
        yield_statistics(recorded(a_kitchen(PLAN)), "rump-seamed", A_DAY)
