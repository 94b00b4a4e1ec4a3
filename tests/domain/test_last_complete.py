"""A gap tells the last figure that was complete: a contract that ran out, a price never known, a recipe begun late."""

from dataclasses import replace
from datetime import date
from fractions import Fraction

from service.domain.history import Mark, Version
from service.domain.kitchen import EMPTY, Kitchen
from service.domain.last_complete import kitchen_below, last_complete
from tests.builders import a_breakdown, a_dish, a_line, a_loss, a_main, a_price, a_primal, a_recipe, an_ingredient

CONTRACT_ENDS = date(2026, 3, 31)
TODAY = date(2026, 11, 25)


def history(record: object, start: date | None = None) -> tuple[Version, ...]:
    return (Version(record, Mark(1, 1), start),)


def a_kitchen_with_a_contract(**more: object) -> Kitchen:
    """A cap of a topside bought on a contract that has run out, on one dish; another dish stands beside it."""
    contract = a_price("14.20", effective_from=date(2026, 1, 5), effective_to=CONTRACT_ENDS)
    return replace(
        EMPTY, revision=1, ingredients={"beef-topside": history(a_primal()), "shallot": history(an_ingredient())},
        prices={"beef-topside": (contract,)},
        breakdowns={"topside-seamed": history(a_breakdown(
            a_main("topside-cap", "0.50", "16"), a_loss("silverskin", "0.05"), code="topside-seamed"))},
        recipes={"seared": history(a_recipe("seared", a_line("cut topside-cap", "2", "kg"), makes_quantity="2",
                                             makes_unit="kg"))},
        dishes={"cap": history(a_dish("cap", a_line("recipe seared", "1", "kg"), portions="4")),
                "sides": history(a_dish("sides", a_line("ingredient shallot", "1", "kg")))}, **more)


def test_a_contract_that_ran_out_leaves_its_last_day() -> None:
    found = last_complete(a_kitchen_with_a_contract(), "cap", TODAY)

    assert found is not None
    assert found.day == CONTRACT_ENDS
    assert found.food_cost == Fraction("14.20") / Fraction("0.50") / 4


def test_what_was_never_complete_says_so() -> None:
    assert last_complete(a_kitchen_with_a_contract(), "sides", TODAY) is None
    assert last_complete(a_kitchen_with_a_contract(), "cap", date(2026, 1, 5)) is None


def test_only_what_lies_below_the_dish_is_looked_at() -> None:
    below = kitchen_below(a_kitchen_with_a_contract(), ("dish", "cap"))

    assert set(below.ingredients) == {"beef-topside"}
    assert set(below.dishes) == {"cap"}
    assert (set(below.recipes), set(below.breakdowns)) == ({"seared"}, {"topside-seamed"})
