"""A gap tells the last figure that was complete: a contract that ran out, a price never known, a recipe begun late."""

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

from service.domain.history import Mark, Version
from service.domain.kitchen import EMPTY, Kitchen
from service.domain.last_complete import kitchen_below, last_complete
from tests.builders import (
    a_breakdown,
    a_by_product,
    a_dish,
    a_line,
    a_loss,
    a_main,
    a_price,
    a_primal,
    a_recipe,
    an_ingredient,
)

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


def test_weekly_prices_of_something_else_do_not_hide_when_the_contract_ran_out() -> None:
    """Ten years of weekly prices of another ingredient cannot mend a missing one, and are not looked at one by one."""
    weekly = tuple(a_price("2", ingredient="shallot", effective_from=CONTRACT_ENDS + timedelta(weeks=week))
                   for week in range(1, 521))
    kitchen = a_kitchen_with_a_contract()
    plate = a_dish("plate", a_line("cut topside-cap", "1", "kg"), a_line("ingredient shallot", "1", "kg"))
    before = a_price("3", ingredient="shallot", effective_from=date(2026, 1, 5))
    kitchen = replace(kitchen, prices={**kitchen.prices, "shallot": (before, *weekly)},
                      dishes={**kitchen.dishes, "plate": history(plate)})

    found = last_complete(kitchen, "plate", date(2036, 12, 1))

    assert found is not None
    assert (found.day, found.food_cost) == (CONTRACT_ENDS, Fraction("14.20") / Fraction("0.50") + 3)


def test_credits_that_a_dearer_week_covered_are_found_among_prices() -> None:
    """Unlike a missing price, credits above the cost may be mended by a price of what is bought."""
    prices = (a_price("14.20"), a_price("0.10", effective_from=date(2026, 2, 2)),
              a_price("0.20", effective_from=date(2026, 3, 2)))
    breakdown = a_breakdown(a_main("topside-cap", "0.50"), a_by_product("fat", "0.20", "2"))
    kitchen = replace(a_kitchen_with_a_contract(), prices={"beef-topside": prices},
                      breakdowns={"topside-seamed": history(breakdown)})

    found = last_complete(kitchen, "cap", TODAY)

    assert found is not None
    assert (found.day, found.food_cost) == (
        date(2026, 2, 1), (Fraction("14.20") - 2 * Fraction("0.20")) / Fraction("0.50") / 4)


def test_two_contracts_that_ran_out_one_after_the_other_leave_the_last_day_of_both() -> None:
    """What one change may have taken away is no reason to pass over another."""
    prices = {"beef-topside": (a_price("14.20", effective_to=date(2026, 3, 31)),),
              "shallot": (a_price("3", ingredient="shallot", effective_to=date(2026, 2, 28)),)}
    plate = a_dish("plate", a_line("ingredient beef-topside", "1", "kg"), a_line("ingredient shallot", "1", "kg"))
    kitchen = replace(a_kitchen_with_a_contract(), prices=prices, dishes={"plate": history(plate)})
    begun_late = (*history(an_ingredient(kind="onion")), Version(an_ingredient(), Mark(2, 1), date(2026, 6, 1)))
    kitchen = replace(kitchen, ingredients={**kitchen.ingredients, "shallot": begun_late})

    found = last_complete(kitchen, "plate", TODAY)

    assert found is not None
    assert (found.day, found.food_cost) == (date(2026, 2, 28), Fraction("14.20") + 3)
