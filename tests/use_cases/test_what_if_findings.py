"""What is supposed and moves nothing is said; so is what was sold and is not on the menu, and the yields kept."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from service.domain.breakdown import Breakdown, Method, YieldsFrom
from service.domain.errors import Refused
from service.domain.history import Mark
from service.domain.yield_test import WeighedOutput, YieldTest
from service.use_cases.covers_asked import Covers
from service.use_cases.position import Position
from service.use_cases.snapshot import Snapshot
from service.use_cases.what_if import what_if
from service.use_cases.what_if_asked import OtherMethod, OtherYields, OutputYield, PricesMove, Supposition
from tests.builders import A_DAY, a_breakdown, a_dish, a_kitchen, a_line, a_loss, a_main, a_price, a_primal
from tests.recorded import recorded

SEAMED = replace(a_breakdown(a_main("cap", "0.3", "16.00"), a_main("inside", "0.6", "19.00"), a_loss("skin", "0.05"),
                             code="seamed"), yields_from=YieldsFrom.TESTS)
TRIMMED = a_breakdown(a_main("cap-trimmed", "0.2", "16.00"), a_main("rump", "0.7", "12.00"), code="trimmed")
TEST = YieldTest("seamed", A_DAY, "kg", Decimal(10), (
    WeighedOutput("cap", Decimal("3.00")), WeighedOutput("inside", Decimal("6.53")),
    WeighedOutput("skin", Decimal("0.50"))), Mark(9, 1))


def a_snapshot(*plans: Breakdown) -> Snapshot:
    """Topside of two suppliers, the first preferred; its test outweighs the input by 0.3 %, as a scale may."""
    kitchen = a_kitchen(replace(a_primal(), preferred_supplier="fenmoor"), a_price("14.20"),
                        a_price("13.00", supplier="hollow"), *(plans or (SEAMED,)), TEST,
                        a_dish("plate", a_line("cut cap", "0.2"), menu_price="22.00"), day=A_DAY)
    return Snapshot.of(Position(recorded(kitchen).revision, "0" * 64, A_DAY), recorded(kitchen), None)


def of_seamed(cut: str, fraction: str) -> Supposition:
    return Supposition(yields=(OtherYields("seamed", (OutputYield(cut, Decimal(fraction)),)),))


@pytest.mark.parametrize(("supplier", "records"), [("fenmoor", []), ("hollow", ["hollow"])])
def test_a_rise_of_a_supplier_whose_prices_decide_nowhere_is_said_to_move_nothing(
    supplier: str, records: list[str]
) -> None:
    told = what_if(a_snapshot(), Supposition(prices=(PricesMove(Decimal(8), suppliers=(supplier,)),)))
    assert [(found["code"], found["record"]) for found in told["findings"]] == [
        ("price_does_not_decide", record) for record in records]
    assert [dish["dish"] for dish in told["dishes"]] == ([] if records else ["plate"])


def test_a_breakdown_that_is_not_in_use_is_said_to_move_nothing_and_which_one_would() -> None:
    snapshot = a_snapshot(SEAMED, replace(TRIMMED, in_use=False))
    told = what_if(snapshot, Supposition(methods=(OtherMethod("trimmed", Method.WEIGHT),)))
    assert told["dishes"] == []
    assert [(found["code"], found["kind"], found["record"]) for found in told["findings"]] == [
        ("not_in_use", "breakdown", "trimmed")]
    assert "ask of seamed" in told["findings"][0]["detail"]
    assert what_if(snapshot, of_seamed("cap", "0.25"))["findings"] == []


def test_yields_that_outweigh_with_those_kept_from_tests_are_refused_naming_those() -> None:
    """0.299 of cap, with 0.653 and 0.05 as weighed, come to 1.002."""
    with pytest.raises(Refused) as refused:
        what_if(a_snapshot(), of_seamed("cap", "0.299"))
    (fault,) = refused.value.faults
    assert fault.pointer == "#/yields/0/yields"
    assert "inside 0.653" in fault.detail
    assert "skin 0.05" in fault.detail
    assert "cap " not in fault.detail
    assert "1.002" in fault.detail


def test_what_was_sold_and_is_not_on_the_menu_is_told_apart() -> None:
    covers = Covers("sales", {"plate": Fraction(3), "eaten-up": Fraction(5)}, {"77": Fraction(2)}, 1)
    told = what_if(a_snapshot(), Supposition(), covers)
    assert told["not_on_menu"] == [{"dish": "eaten-up", "quantity": "5.0000"}]
    assert told["without_dish"] == [{"pos_code": "77", "quantity": "2.0000"}]
    assert told["menu"]["before"]["covers"] == "3.0000"
