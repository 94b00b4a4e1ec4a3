"""Which price holds on a day, and who decides. Judge: the rule told again as a filter and a sort, over all prices."""

from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.errors import MissingConversion
from service.domain.findings import Gap
from service.domain.history import Mark
from service.domain.price import Price
from service.domain.price_in_force import deciding_price, offers, unit_price
from tests.builders import NEW_YEAR, WITHDRAWN, a_conversion, a_price, a_primal

FEBRUARY, MARCH = date(2026, 2, 1), date(2026, 3, 1)


def in_force(*prices: Price, day: date = FEBRUARY) -> Price | None:
    return offers(prices, day).get("fenmoor")


def test_first_and_last_day_are_both_in_the_period() -> None:
    promotion = a_price(effective_from=FEBRUARY, effective_to=MARCH)
    days = (FEBRUARY - timedelta(1), FEBRUARY, MARCH, MARCH + timedelta(1))
    assert [in_force(promotion, day=day) for day in days] == [None, promotion, promotion, None]


def test_a_contract_with_a_last_day_goes_before_a_later_open_price() -> None:
    contract = a_price(effective_from=NEW_YEAR, effective_to=MARCH, made=Mark(1, 1))
    listed = a_price(effective_from=FEBRUARY, made=Mark(9, 1))
    assert in_force(listed, contract) is contract
    assert in_force(listed, contract, day=MARCH + timedelta(1)) is listed


def test_the_price_that_starts_latest_holds_and_tomorrows_waits() -> None:
    old, new = a_price(), a_price(effective_from=FEBRUARY, made=Mark(1, 2))
    tomorrow = a_price(effective_from=FEBRUARY + timedelta(1), made=Mark(1, 3))
    assert in_force(tomorrow, new, old) is new
    assert in_force(tomorrow, new, old, day=FEBRUARY + timedelta(1)) is tomorrow


def test_of_two_that_start_together_the_one_recorded_later_holds() -> None:
    first, second = a_price("9", made=Mark(7, 9)), a_price("8", made=Mark(7, 10))
    assert in_force(second, first) is second


def test_a_withdrawn_price_lets_the_one_before_it_hold_again() -> None:
    right, wrong = a_price(), a_price("142.00", effective_from=FEBRUARY, withdrawn=WITHDRAWN)
    assert in_force(right, wrong) is right


def test_zero_is_a_price() -> None:
    free = a_price("0")
    assert deciding_price(a_primal(), [free], FEBRUARY) is free
    assert unit_price(free, a_primal()) == 0


def test_a_case_is_priced_per_base_unit() -> None:
    case = a_price("113.60", pack_quantity="8")
    assert unit_price(case, a_primal()) == Fraction("14.20")


def test_a_pack_in_pounds_is_priced_exactly() -> None:
    assert unit_price(a_price("1", pack_unit="lb"), a_primal()) == 1 / Fraction("0.45359237")


def test_a_pack_by_the_piece_needs_the_ingredients_own_conversion() -> None:
    piece = a_price("119.28", pack_unit="each")
    assert unit_price(piece, a_primal(conversions=(a_conversion("each", "8.4", "kg"),))) == Fraction("14.20")
    with pytest.raises(MissingConversion):
        unit_price(piece, a_primal())


def test_the_preferred_supplier_decides_even_if_dearer() -> None:
    dear, cheap = a_price("15"), a_price("9", supplier="harrowgate")
    assert deciding_price(a_primal(preferred_supplier="fenmoor"), [cheap, dear], FEBRUARY) is dear


def test_a_preferred_supplier_without_a_price_is_a_gap_though_others_have_one() -> None:
    answer = deciding_price(a_primal(preferred_supplier="fenmoor"), [a_price(supplier="harrowgate")], FEBRUARY)
    assert isinstance(answer, Gap)
    assert (answer.code, answer.kind, answer.record) == ("no_price", "ingredient", "beef-topside")
    assert "fenmoor" in answer.detail
    assert answer.more == {"supplier": "fenmoor"}


def test_the_only_supplier_in_force_decides_where_none_is_preferred() -> None:
    only, ended = a_price(), a_price("1", supplier="harrowgate", effective_to=NEW_YEAR)
    assert deciding_price(a_primal(), [only, ended], FEBRUARY) is only


def test_nothing_recorded_is_a_gap_and_not_a_zero() -> None:
    answer = deciding_price(a_primal(), [], FEBRUARY)
    assert isinstance(answer, Gap)
    assert answer.code == "no_price"


def test_several_suppliers_and_none_preferred_are_listed_by_what_a_usable_kg_costs() -> None:
    prices = [a_price("14.20", made=Mark(3, 2)), a_price("100", supplier="aldmere", pack_quantity="8"),
              a_price("3", supplier="by-the-piece", pack_unit="each")]
    answer = deciding_price(a_primal(), prices, FEBRUARY, usable_yield=Fraction("0.87"))
    assert isinstance(answer, Gap)
    assert answer.code == "no_preferred_supplier"
    listed = [(offer["supplier"], offer["cost_per_usable_unit"]) for offer in answer.more["offers"]]
    assert listed == [("aldmere", "14.3678"), ("by-the-piece", None), ("fenmoor", "16.3218")]
    assert answer.more["offers"][2]["price"] == "3-2"


def test_an_offer_of_what_is_not_broken_down_costs_its_unit_price() -> None:
    answer = deciding_price(a_primal(), [a_price(), a_price("13", supplier="aldmere")], FEBRUARY)
    assert isinstance(answer, Gap)
    assert [offer["cost_per_usable_unit"] for offer in answer.more["offers"]] == ["13.0000", "14.2000"]


def test_an_offer_of_a_piece_that_is_broken_down_is_told_by_the_usable_kg_too() -> None:
    """A salmon of 5 kg at 60.00, of which 0.60 is usable, is 20.00 for each of its 3 usable kilograms."""
    salmon = a_primal(base_unit="each", conversions=(a_conversion("each", "5", "kg"),))
    offered = [a_price("60", pack_unit="each"), a_price("13.20", supplier="aldmere")]
    answer = deciding_price(salmon, offered, FEBRUARY, Fraction("0.60"))
    assert isinstance(answer, Gap)
    assert [(offer["cost_per_usable_unit"], offer["unit"]) for offer in answer.more["offers"]] == [
        ("22.0000", "kg"), ("20.0000", "kg")]


def test_an_offer_of_which_nothing_is_usable_has_no_cost() -> None:
    answer = deciding_price(a_primal(), [a_price(), a_price("13", supplier="aldmere")], FEBRUARY, Fraction(0))
    assert isinstance(answer, Gap)
    assert [offer["cost_per_usable_unit"] for offer in answer.more["offers"]] == [None, None]


days = st.integers(0, 8).map(lambda offset: NEW_YEAR + timedelta(offset))


@st.composite
def price_lists(draw: st.DrawFn) -> list[Price]:
    rows = draw(st.lists(st.tuples(days, st.one_of(st.none(), days), st.sampled_from("ab"), st.booleans()), max_size=8))
    return [Price("beef-topside", supplier, Decimal(position), Decimal(1), "kg", start, end, "", Mark(position, 1),
                  WITHDRAWN if withdrawn else None)
            for position, (start, end, supplier, withdrawn) in enumerate(rows, 1)]


def sorted_by_the_rule(prices: Iterable[Price], supplier: str, day: date) -> list[Price]:
    standing = [p for p in prices if p.supplier == supplier and not p.withdrawn and p.effective_from <= day]
    standing = [p for p in standing if not p.effective_to or day <= p.effective_to]
    standing.sort(key=lambda p: p.made)
    standing.sort(key=lambda p: p.effective_from)
    standing.sort(key=lambda p: p.effective_to is not None)
    return standing


@given(price_lists(), days, st.randoms())
def test_the_price_in_force_is_the_last_of_those_sorted_by_the_rule(prices: list[Price], day: date, shuffler) -> None:
    shuffled = list(prices)
    shuffler.shuffle(shuffled)
    expected = {s: found[-1] for s in "ab" if (found := sorted_by_the_rule(prices, s, day))}
    assert offers(shuffled, day) == expected
    assert offers(shuffled, day).get("a") == expected.get("a")
