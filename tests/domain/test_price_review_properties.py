"""The review against plain fractions: whatever pack and unit a price is written in, what a kilogram costs is judged.

Units are converted here by pint, which shares no code with the service.
"""

from decimal import Decimal
from fractions import Fraction

import pint
from hypothesis import given
from hypothesis import strategies as st

from service.domain.price_change import spread_of
from service.domain.row_finding import Standing
from service.domain.rows_together import rivals
from tests.builders import a_pack, a_price, an_item, some_settings
from tests.domain.test_price_review import a_ground, a_row, codes, reviewed

UNITS = pint.UnitRegistry(non_int_type=Fraction)
PINT_NAMES = {"kg": "kilogram", "g": "gram", "lb": "pound", "oz": "ounce"}

cents = st.integers(1, 200_000).map(lambda value: Decimal(value) / 100)
quantities = st.sampled_from(["1", "2", "2.5", "10", "100", "1000"])
units = st.sampled_from(sorted(PINT_NAMES))


def per_kg(amount: Decimal, quantity: str, unit: str) -> Fraction:
    kg = (Fraction(quantity) * UNITS(PINT_NAMES[unit])).to("kilogram").magnitude
    return Fraction(amount) / Fraction(kg)


@given(cents, quantities, units, cents, quantities, units, st.integers(1, 90))
def test_a_price_is_judged_by_what_a_kilogram_costs(
    new: Decimal, new_quantity: str, new_unit: str, old: Decimal, old_quantity: str, old_unit: str, limit: int,
) -> None:
    ground = a_ground(an_item(), a_price(str(old), pack_quantity=old_quantity, pack_unit=old_unit),
                      settings=some_settings(price_change_limit_percent=Decimal(limit)))
    one = reviewed(a_row(str(new), per_quantity=Decimal(new_quantity), per_unit=new_unit), ground=ground).rows[0]
    now, before = per_kg(new, new_quantity, new_unit), per_kg(old, old_quantity, old_unit)
    assert ("price_unchanged" in codes(one)) is (now == before)
    assert ("outside_history" in codes(one)) is (abs(now - before) * 100 > limit * before)


@given(cents, quantities, units)
def test_a_price_by_the_pack_is_the_same_as_by_what_the_pack_holds(amount: Decimal, quantity: str, unit: str) -> None:
    ground = a_ground(an_item(pack=a_pack(quantity, unit, count="3")), a_price("14.20"))
    by_pack = reviewed(a_row(str(amount), per_unit="pack"), ground=ground).rows[0]
    by_unit = reviewed(a_row(str(amount), per_unit=unit, per_quantity=Decimal(quantity) * 3), ground=ground).rows[0]
    assert by_pack.price == by_unit.price
    assert codes(by_pack) == codes(by_unit)


@given(st.lists(st.tuples(st.sampled_from("abc"), cents, st.sampled_from([None, "10", "50"])), max_size=12))
def test_of_the_rows_that_stand_clean_no_two_price_the_same_ingredient(drawn: list[tuple[str, Decimal, str]]) -> None:
    ground = a_ground(*(an_item(code) for code in "abc"), a_price("14.20"))
    listed = [a_row(str(amount), item=code, at_least=least and Decimal(least)) for code, amount, least in drawn]
    rows = reviewed(*listed, ground=ground).rows
    clean = [one.price for one in rows if one.standing is Standing.CLEAN]
    assert rivals(clean) == {}
    assert len(rows) == len(drawn)


def test_the_spread_is_the_one_of_the_worked_example() -> None:
    """1, 1, 2, 2, 4, 6, 9: the median is 2, the distances are 1 1 0 0 2 4 7, and their median is 1.

    Source: the example that text-books and encyclopaedias give for the median absolute deviation; from memory.
    """
    spread = spread_of([Fraction(value) for value in (1, 1, 2, 2, 4, 6, 9)])
    assert spread is not None
    assert (spread.median, spread.deviation) == (2, 1)
    assert spread_of([Fraction(5)] * 9) is None
    assert spread_of([Fraction(1), Fraction(2)]) is None
