"""Prices of a what-if, one upon another: in their order, within what can be recorded, and no more work than an answer
is worth."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.domain.errors import LimitPassed, Refused
from service.domain.history import Mark, Version
from service.domain.price_in_force import offers
from service.domain.scenario import PriceMove, kitchen_under
from service.domain.supplier import Supplier
from service.use_cases.position import Position
from service.use_cases.snapshot import Snapshot
from service.use_cases.what_if import what_if
from service.use_cases.what_if_asked import MenuPricesMove, OtherPrice, PricesMove, Ramp, Supposition
from service.use_cases.what_if_prices import MOST_LOOKED_AT
from tests.builders import A_DAY, a_dish, a_kitchen, a_line, a_price, an_ingredient
from tests.recorded import recorded

BROTH = a_dish("broth", a_line("ingredient salt", "0.1"), menu_price="8.00")
ROAST = a_dish("roast", a_line("ingredient beef", "0.3"), a_line("ingredient salt", "0.01"), menu_price="22.00")


def a_snapshot() -> Snapshot:
    """Beef and salt have prices, saffron has none."""
    kitchen = a_kitchen(an_ingredient("beef"), an_ingredient("salt"), an_ingredient("saffron"),
                        a_price("14.20", ingredient="beef"), a_price("1.00", ingredient="salt"), BROTH, ROAST,
                        a_dish("risotto", a_line("ingredient saffron", "0.001"), menu_price="14.00"), day=A_DAY)
    return Snapshot.of(Position(1, "0" * 64, A_DAY), recorded(kitchen), None)


def rise(percent: str, *ingredients: str) -> PricesMove:
    return PricesMove(Decimal(percent), ingredients)


def faults(*prices: PricesMove | OtherPrice, menu_prices: tuple[MenuPricesMove, ...] = ()) -> dict[str | None, str]:
    with pytest.raises(Refused) as refused:
        what_if(a_snapshot(), Supposition(prices=prices, menu_prices=menu_prices))
    return {fault.pointer: str(fault) for fault in refused.value.faults}


def supplier() -> str:
    return a_price("1").supplier


@pytest.mark.parametrize("first", [rise("10"), OtherPrice("salt", supplier(), Decimal("1.1"), Decimal(1), "kg")])
def test_a_ramp_rises_from_the_prices_that_are_supposed_beside_it(first: PricesMove | OtherPrice) -> None:
    """Salt's is the last of the prices that the rise of all supposes, and the ramp's only one."""
    ramp = Ramp(Decimal(0), Decimal(50), Decimal(50), ("salt",))
    told = what_if(a_snapshot(), Supposition(prices=(first,)), None, ramp)["ramp"]
    single = what_if(a_snapshot(), Supposition(prices=(first, rise("50", "salt"))))
    assert told["menu"][1] == single["menu"]["after"]
    curves = {curve["dish"]: curve["food_cost"] for curve in told["dishes"]}
    assert curves["broth"] == ["0.1100", "0.1650"]


def test_moves_upon_moves_of_a_price_do_not_pile_up() -> None:
    kitchen = a_snapshot().recorded
    after = kitchen_under(kitchen, [PriceMove(Decimal(1), A_DAY)] * 40)
    assert len(after.prices["beef"]) <= len(kitchen.prices["beef"]) + 1
    amount = Decimal("14.20")
    for _ in range(40):
        amount = (amount * Decimal("1.01")).quantize(Decimal("0.000001"), "ROUND_HALF_UP")
    assert [price.amount for price in offers(after.prices["beef"], A_DAY).values()] == [amount]


def test_percentages_one_upon_another_are_held_to_what_can_be_recorded() -> None:
    """14.20 a thousand and one times as dear, four times over, has more than 12 digits before the point."""
    told = faults(*[rise("100000", "beef")] * 4)
    assert list(told) == ["#/prices/3/percent"]
    assert "12 digits" in told["#/prices/3/percent"]


def test_a_percentage_may_move_a_price_that_is_supposed_before_it() -> None:
    price = OtherPrice("saffron", supplier(), Decimal(4000), Decimal(1), "kg")
    told = what_if(a_snapshot(), Supposition(prices=(price, rise("25", "saffron"))))
    assert [(dish["dish"], dish["after"]["food_cost"]) for dish in told["dishes"]] == [("risotto", "5.0000")]
    assert list(faults(rise("25", "saffron"), price)) == ["#/prices/0"]


def test_more_percentages_than_an_answer_is_worth_are_refused_before_any_work() -> None:
    every = MOST_LOOKED_AT // 2 + 1
    assert list(faults(*[rise("1")] * every)) == ["#/prices"]
    menu_prices = (MenuPricesMove(Decimal(1)),) * every
    assert list(faults(rise("1"), menu_prices=menu_prices)) == ["#/menu_prices"]


def test_a_ramp_of_more_prices_than_an_answer_is_worth_is_refused_before_any_work() -> None:
    """Five thousand spices that are bought, at 61 steps."""
    snapshot = a_snapshot()
    spices = {f"spice-{number}": snapshot.kitchen.prices["salt"] for number in range(5_000)}
    standing = replace(snapshot.kitchen, prices={**snapshot.kitchen.prices, **spices})
    snapshot = Snapshot.of(snapshot.position, recorded(standing), None)
    every = Ramp(Decimal(0), Decimal(60), Decimal(1))
    with pytest.raises(LimitPassed) as passed:
        what_if(snapshot, Supposition(), None, every)
    assert passed.value.pointer == "#/ramp/step_percent"
    assert passed.value.more["at_most"] < 5_000 * 61
    assert len(what_if(snapshot, Supposition(), None, replace(every, ingredients=("salt",)))["ramp"]["menu"]) == 61


def test_the_prices_of_a_supplier_who_has_retired_are_not_there_to_be_moved() -> None:
    snapshot = a_snapshot()
    gone = Version(Supplier("gone", "Gone Ltd"), Mark(1, 1)), Version(Supplier("gone", "Gone Ltd"), Mark(1, 2),
                                                                     retired=True)
    of_salt = (*snapshot.recorded.prices["salt"], replace(a_price("2.00", ingredient="salt"), supplier="gone"))
    kitchen = replace(snapshot.recorded, suppliers={**snapshot.recorded.suppliers, "gone": gone},
                      prices={**snapshot.recorded.prices, "salt": of_salt})
    with pytest.raises(Refused) as refused:
        what_if(Snapshot.of(snapshot.position, kitchen, None), Supposition(
            prices=(PricesMove(Decimal(5), suppliers=("gone",)),)))
    assert [fault.pointer for fault in refused.value.faults] == ["#/prices/0/suppliers/0"]
