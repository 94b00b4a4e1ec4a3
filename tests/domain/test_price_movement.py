"""What moved, told by the prices that moved it. Judges: every day's costs compiled from nothing, in plain fractions."""

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import groupby
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.domain.cascade import Costing, cascade
from service.domain.compile import compile_network
from service.domain.history import Mark, Version
from service.domain.kitchen import EMPTY, Kitchen
from service.domain.network import Network
from service.domain.price import Price
from service.domain.price_movement import DishMovement, PriceMovements, Status, price_movements
from service.domain.price_turns import PriceTurn, TurnKind
from service.domain.rounding import published
from service.domain.supplier import Supplier
from tests.builders import WITHDRAWN, a_dish, a_line, a_price, a_recipe, an_ingredient, some_settings
from tests.kitchens import DAY
from tests.moving_kitchens import END, moving_kitchens

ONE_DAY = timedelta(days=1)
START = date(2026, 3, 1)
often = settings(max_examples=50, deadline=None,
                 suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


def on(days: int) -> date:
    return START + timedelta(days=days)


def units(cost: Fraction) -> int:
    """Published to 4 decimals, in units of the last."""
    return int(published(cost, 4).scaleb(4))


def costs_on(kitchen: Kitchen, day: date) -> dict[str, Fraction | None]:
    standing = kitchen.on(day)
    costing = cascade(compile_network(standing))
    return {code: costing.material(("dish", code)) for code in standing.dishes}


def by_code(moved: PriceMovements) -> dict[str, DishMovement]:
    return {dish.code: dish for dish in moved.dishes}


@often
@given(moving_kitchens())
def test_the_parts_of_every_dish_add_up_to_its_published_movement(kitchen: Kitchen) -> None:
    """Both ends are compiled from nothing; every status is what they say."""
    moved = price_movements(kitchen, DAY, END)
    then, now = costs_on(kitchen, DAY), costs_on(kitchen, END)
    assert [dish.code for dish in moved.dishes] == sorted({*then, *now})
    for dish in moved.dishes:
        ends = (then.get(dish.code), now.get(dish.code))
        assert (dish.then, dish.now) == tuple(None if cost is None else units(cost) for cost in ends)
        parts = sum(dish.shares.values()) + dish.rounding + dish.other
        if None in ends:
            assert (dish.status is not Status.COMPLETE, dish.change, parts) == (True, None, 0)
            assert ("menu" in dish.status) == (dish.code not in then or dish.code not in now)
        else:
            assert dish.status is Status.COMPLETE
            assert parts == dish.change == units(ends[1]) - units(ends[0])


@often
@given(moving_kitchens())
def test_every_part_is_what_costing_each_step_from_nothing_gives(kitchen: Kitchen) -> None:
    """Of the dishes that have a cost on every day in between."""
    moved = price_movements(kitchen, DAY, END)
    turns = sorted((turn for ingredient in moved.ingredients for turn in ingredient.turns),
                   key=lambda turn: (turn.day, turn.cause.made))
    told = told_again(kitchen, turns)
    for dish in moved.dishes:
        if dish.code in told:
            assert {code: share for code, share in dish.shares.items() if share} == {
                code: share for code, share in told[dish.code].items() if share and code not in ("rounding", "other")}
            assert (dish.rounding, dish.other) == (told[dish.code]["rounding"], told[dish.code]["other"])


@often
@given(moving_kitchens(), st.integers(1, (END - DAY).days - 1))
def test_two_spans_that_follow_each_other_are_the_whole_part_by_part(kitchen: Kitchen, days: int) -> None:
    """Of the dishes that have a cost on the day in the middle."""
    middle = DAY + ONE_DAY * days
    first, second, whole = (by_code(price_movements(kitchen, *ends)) for ends in (
        (DAY, middle), (middle, END), (DAY, END)))
    for code, dish in whole.items():
        halves = [half[code] for half in (first, second) if code in half and half[code].status is Status.COMPLETE]
        if dish.status is Status.COMPLETE and len(halves) == 2:
            assert (dish.rounding, dish.other) == tuple(
                sum(getattr(half, part) for half in halves) for part in ("rounding", "other"))
            assert {**dish.shares} == {ingredient: sum(half.shares.get(ingredient, 0) for half in halves)
                                       for ingredient in sorted({*halves[0].shares, *halves[1].shares})}


def told_again(kitchen: Kitchen, turns: list[PriceTurn]) -> dict[str, dict[str, int]]:
    """Each day compiled from nothing, at the prices of before and then at more and more of its own."""
    level, parts = costs_on(kitchen, DAY), {}
    parts = {code: {"rounding": 0, "other": 0} for code, cost in level.items() if cost is not None}
    for day in (DAY + ONE_DAY * n for n in range(1, (END - DAY).days + 1)):
        network = compile_network(kitchen.on(day))
        today = [turn for turn in turns if turn.day == day]
        kept = {turn.ingredient: turn for turn in today if turn.change is not None}
        parts = {code: told for code, told in parts.items() if costs_on(kitchen, day).get(code) is not None}
        old = cascade(at_prices(network, {code: turn.unit_price_before for code, turn in kept.items()}))
        if any(old.material(("dish", code)) is None for code in parts):
            return {}
        level = moved_by(old, level, parts, "other")
        for _, group in groupby(today, lambda turn: turn.cause.made.revision):
            changed = [kept.pop(turn.ingredient) for turn in group if turn.ingredient in kept]
            left = {code: turn.unit_price_before for code, turn in kept.items()}
            new = cascade(at_prices(network, left))
            reached = {turn.ingredient: effects(network, left, turn, parts) for turn in changed}
            level = taken(new, level, parts, reached)
    return parts


def effects(network: Network, left: dict[str, Any], turn: PriceTurn, dishes: Any) -> dict[str, Fraction]:
    """What one price alone does to each dish, every other standing still: two costings."""
    before = cascade(at_prices(network, left | {turn.ingredient: turn.unit_price_before}))
    after = cascade(at_prices(network, left | {turn.ingredient: turn.unit_price_after}))
    return {code: (after.material(("dish", code)) or 0) - (before.material(("dish", code)) or 0) for code in dishes}


def at_prices(network: Network, prices: dict[str, Any]) -> Network:
    return replace(network, nodes=tuple(
        replace(node, material=prices[node.code], material_gaps=())
        if node.kind == "ingredient" and node.code in prices else node for node in network.nodes))


def moved_by(new: Costing, level: Any, parts: Any, part: str) -> Any:
    after = {code: new.material(("dish", code)) for code in parts}
    for code, told in parts.items():
        told[part] = told.get(part, 0) + units(after[code]) - units(level[code])
    return after


def taken(new: Costing, level: Any, parts: Any, reached: dict[str, dict[str, Fraction]]) -> Any:
    after = {code: new.material(("dish", code)) for code in parts}
    for code, told in parts.items():
        difference = units(after[code]) - units(level[code])
        own = {ingredient: effect[code] for ingredient, effect in reached.items() if effect[code]}
        for ingredient, effect in own.items():
            share = difference if len(own) == 1 else units(effect)
            told[ingredient] = told.get(ingredient, 0) + share
            difference -= share
        told["rounding"] += difference
    return after


def a_moving_kitchen(*prices: Price, **changes: Any) -> Kitchen:
    """Wine and shallots in a jus, on one dish with salt, and salt alone on another."""
    def history(record: Any) -> tuple[Version[Any], ...]:
        return (Version(record, Mark(1, 1)),)

    def histories(*records: Any) -> dict[str, tuple[Version[Any], ...]]:
        return {record.code: history(record) for record in records}

    recorded = {code: tuple(price for price in prices if price.ingredient == code)
                for code in {price.ingredient for price in prices}}
    kitchen = replace(
        EMPTY, revision=99, settings=history(some_settings()), prices=recorded,
        suppliers=histories(*(Supplier(code, code) for code in ("fenmoor", "holt"))),
        ingredients=histories(an_ingredient("wine", base_unit="l"), an_ingredient("shallot"), an_ingredient("salt")),
        recipes=histories(a_recipe("jus", a_line("ingredient wine", "0.75", "l"), a_line("ingredient shallot", "0.3"))),
        dishes=histories(a_dish("steak", a_line("recipe jus", "70", "ml"), a_line("ingredient salt", "3", "g")),
                         a_dish("crisps", a_line("ingredient salt", "5", "g"))))
    return replace(kitchen, **changes)


def priced(ingredient: str, amount: str, day: int = -60, revision: int = 2, **facts: Any) -> Price:
    unit = "l" if ingredient == "wine" else "kg"
    return a_price(amount, ingredient=ingredient, effective_from=on(day), made=Mark(revision, 1), pack_unit=unit,
                   **facts)


BEFORE = (priced("wine", "8.00"), priced("shallot", "2.40"), priced("salt", "1.10"))


def test_one_price_alone_has_the_whole_published_difference() -> None:
    """Worked by hand: 0.0525 l of wine in a portion; 8.00 to 8.03 is 0.001575 of 0.4309 (0.43086), so 0.4324."""
    moved = price_movements(a_moving_kitchen(*BEFORE, priced("wine", "8.03", 5, 10)), on(0), on(30))
    steak = by_code(moved)["steak"]
    assert (steak.then, steak.now) == (4737, 4753)
    assert (steak.shares, steak.rounding, steak.other) == ({"wine": 16}, 0, 0)
    assert by_code(moved)["crisps"].shares == {}
    (wine,) = moved.ingredients
    assert (wine.then, wine.now, wine.base_unit) == (Fraction(8), Fraction("8.03"), "l")
    (turn,) = wine.turns
    assert (turn.day, turn.cause.kind, turn.cause.made) == (on(5), TurnKind.PRICE_STARTED, Mark(10, 1))


def test_several_prices_of_one_revision_have_linear_shares_and_leave_a_rounding() -> None:
    kitchen = a_moving_kitchen(*BEFORE, priced("wine", "8.001", 5, 10), priced("shallot", "2.402", 5, 10))
    steak = by_code(price_movements(kitchen, on(0), on(30)))["steak"]
    exact = {"wine": Fraction("0.001") * Fraction("0.0525"), "shallot": Fraction("0.002") * Fraction("0.021")}
    assert steak.shares == {code: units(effect) for code, effect in exact.items()} == {"wine": 1, "shallot": 0}
    assert steak.rounding == units(Fraction("0.4737") + sum(exact.values())) - 4737 - 1


def test_prices_of_two_revisions_on_one_day_are_two_steps_in_the_order_of_their_revisions() -> None:
    """Each makes 0.0000315 of 0.4737: nothing to be seen of the first, and the two together make 0.4738."""
    for wine, shallot in ((20, 10), (10, 20)):
        kitchen = a_moving_kitchen(*BEFORE, priced("wine", "8.0006", 5, wine), priced("shallot", "2.4015", 5, shallot))
        steak = by_code(price_movements(kitchen, on(0), on(30)))["steak"]
        assert (steak.shares, steak.rounding) == ({"wine": int(wine > shallot), "shallot": int(shallot > wine)}, 0)


def test_a_new_recipe_is_a_step_of_its_own_before_the_prices_of_its_day() -> None:
    """The price counts at the new quantity: 0.07 of a jus with twice the wine."""
    richer = a_recipe("jus", a_line("ingredient wine", "1.5", "l"), a_line("ingredient shallot", "0.3"))
    kitchen = a_moving_kitchen(*BEFORE, priced("wine", "9.00", 5, 10)).with_version(
        "recipe", "jus", Version(richer, Mark(20, 1), on(5)))
    steak = by_code(price_movements(kitchen, on(0), on(30)))["steak"]
    assert steak.other == units(Fraction("0.0525") * 8)
    assert steak.shares == {"wine": units(Fraction("0.105"))}


def test_a_contract_that_ends_and_another_preferred_supplier_are_causes_too() -> None:
    contract = priced("wine", "7.00", -10, 5, effective_to=on(4))
    offered = priced("salt", "0.90", -20, 6, supplier="holt")
    salt = an_ingredient("salt", preferred_supplier="fenmoor")
    changed = replace(salt, preferred_supplier="holt")
    kitchen = a_moving_kitchen(*BEFORE, contract, offered)
    kitchen = replace(kitchen, ingredients={**kitchen.ingredients, "salt": (
        Version(salt, Mark(1, 9)), Version(changed, Mark(30, 1), on(8)))})
    moved = {each.code: each for each in price_movements(kitchen, on(0), on(30)).ingredients}
    (ended,), (preferred,) = moved["wine"].turns, moved["salt"].turns
    assert (ended.day, ended.cause) == (on(5), (Mark(5, 1), TurnKind.PRICE_ENDED, contract))
    assert (ended.unit_price_before, ended.unit_price_after) == (7, 8)
    assert (preferred.day, preferred.cause) == (on(8), (Mark(30, 1), TurnKind.PREFERRED_SUPPLIER, None))
    assert (preferred.before, preferred.after) == (BEFORE[2], offered)


def test_a_supplier_that_is_retired_and_comes_back_turns_its_prices() -> None:
    offered = priced("wine", "7.50", -90, 3, supplier="holt")
    holt = Supplier("holt", "holt")
    kitchen = a_moving_kitchen(*BEFORE, offered).with_version(
        "supplier", "fenmoor", Version(Supplier("fenmoor", "fenmoor"), Mark(40, 1), on(3), retired=True)).with_version(
        "supplier", "fenmoor", Version(Supplier("fenmoor", "fenmoor"), Mark(41, 1), on(9))).with_version(
        "supplier", "holt", Version(holt, Mark(42, 1), on(9), retired=True))
    moved = {each.code: each for each in price_movements(kitchen, on(0), on(30)).ingredients}
    assert [(turn.day, turn.cause.kind) for turn in moved["wine"].turns] == [(on(3), TurnKind.SUPPLIER_RETIRED),
                                                                            (on(9), TurnKind.SUPPLIER_RETIRED)]
    assert [(turn.unit_price_before, turn.unit_price_after) for turn in moved["wine"].turns] == [
        (None, Fraction("7.5")), (Fraction("7.5"), 8)]
    assert [turn.cause.kind for turn in moved["salt"].turns] == [TurnKind.SUPPLIER_RETIRED, TurnKind.SUPPLIER_BACK]


def test_days_without_a_cost_are_one_step_with_the_next_day_that_has_one() -> None:
    """The contract of salt runs out on day 4; the new one starts on day 9: wine is dearer by then, the jus richer."""
    richer = a_recipe("jus", a_line("ingredient wine", "0.9", "l"), a_line("ingredient shallot", "0.3"))
    contract, renewed = priced("salt", "1.10", effective_to=on(3)), priced("salt", "1.30", 9, 12)
    kitchen = a_moving_kitchen(*BEFORE[:2], contract, renewed, priced("wine", "8.40", 6, 10)).with_version(
        "recipe", "jus", Version(richer, Mark(11, 1), on(7)))
    steak = by_code(price_movements(kitchen, on(0), on(30)))["steak"]
    assert steak.other == units(Fraction("0.4737") + Fraction("0.0105") * 8) - 4737
    assert steak.shares == {"salt": units(Fraction("0.003") * Fraction("0.20")),
                            "wine": units(Fraction("0.063") * Fraction("0.40"))}
    assert sum(steak.shares.values()) + steak.rounding + steak.other == steak.change


def test_what_is_taken_up_before_its_price_was_known_is_no_price_s_share() -> None:
    """Pepper has its first price on the day on which the dish takes it up."""
    salted = a_dish("crisps", a_line("ingredient salt", "5", "g"))
    peppered = a_dish("crisps", a_line("ingredient salt", "5", "g"), a_line("ingredient pepper", "2", "g"))
    kitchen = a_moving_kitchen(*BEFORE, priced("pepper", "20.00", 5, 10))
    kitchen = replace(
        kitchen, ingredients={**kitchen.ingredients, "pepper": (Version(an_ingredient("pepper"), Mark(1, 9)),)},
        dishes={**kitchen.dishes, "crisps": (Version(salted, Mark(1, 1)), Version(peppered, Mark(11, 1), on(5)))})
    moved = price_movements(kitchen, on(0), on(30))
    crisps = by_code(moved)["crisps"]
    assert (crisps.shares, crisps.other) == ({}, 400)
    (pepper,) = moved.ingredients
    assert (pepper.then, pepper.now, pepper.turns[0].change) == (None, 20, None)


def test_dishes_without_a_cost_at_an_end_or_not_on_the_menu_are_listed_and_have_no_movement() -> None:
    kitchen = a_moving_kitchen(*BEFORE[:1], priced("shallot", "2.40", 3, 9), priced("salt", "1.10", effective_to=on(5)))
    dishes = {code: (Version(a_dish(code, a_line(f"ingredient {of}", "1", "kg")), Mark(1, 1), start),
                     *([] if retired is None else [Version(a_dish(code), Mark(8, 1), retired, retired=True)]))
              for code, of, start, retired in (
                  ("new", "shallot", on(4), None), ("gone", "salt", None, on(4)), ("ran-out", "salt", None, None),
                  ("first-priced", "shallot", None, None), ("never", "pepper", None, None),
                  ("visitor", "salt", on(2), on(3)))}
    moved = by_code(price_movements(replace(kitchen, dishes=dishes), on(0), on(30)))
    assert {code: (dish.status.value, dish.then, dish.now) for code, dish in moved.items()} == {
        "first-priced": ("incomplete_then", None, 24000), "gone": ("not_on_menu_now", 11000, None),
        "never": ("incomplete", None, None), "new": ("not_on_menu_then", None, 24000),
        "ran-out": ("incomplete_now", 11000, None)}
    assert all(dish.change is None and not dish.shares for dish in moved.values())


def test_only_the_days_after_the_first_up_to_the_last_count() -> None:
    kitchen = a_moving_kitchen(*BEFORE, priced("wine", "9.00", 5, 10), priced("wine", "10.00", 9, 11))
    days = [(start, end) for start, end in ((4, 5), (5, 8), (5, 9), (4, 9))]
    shares = [by_code(price_movements(kitchen, on(start), on(end)))["steak"].shares for start, end in days]
    assert shares == [{"wine": 525}, {}, {"wine": 525}, {"wine": 1050}]


def test_a_withdrawn_price_moves_nothing() -> None:
    kitchen = a_moving_kitchen(*BEFORE, priced("wine", "80.00", 5, 10, withdrawn=WITHDRAWN))
    moved = price_movements(kitchen, on(0), on(30))
    assert moved.ingredients == ()
    assert [dish.change for dish in moved.dishes] == [0, 0]
