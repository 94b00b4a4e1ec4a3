"""Read the impact of an ingredient: everything it reaches, and at which price each dish leaves its target."""

from collections.abc import Callable

from service.domain.errors import NotFound
from service.domain.impact import DishImpact, Impact, Reached, impact_of
from service.domain.ingredient_weights import LineWeights
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Key
from service.domain.publication import cost_in_words, percent_in_words
from service.domain.uses import users_of, uses_of
from service.use_cases.cost_rows import gap_documents
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot


def read_impact(snapshot: Snapshot, ingredient: str) -> Document:
    """What an ingredient reaches on the snapshot's day.

    Raises:  NotFound when no such ingredient stands that day.
    """
    kitchen = snapshot.kitchen
    record = kitchen.ingredients.get(ingredient)
    if record is None:
        raise NotFound(f"There is no ingredient {ingredient!r} on {snapshot.position.day}.")
    users = snapshot.kept("users", lambda: users_of(snapshot.kept("uses", lambda: uses_of(kitchen))))
    weights = snapshot.kept("line weights", lambda: LineWeights(snapshot.network))
    impact = impact_of(ingredient, kitchen, snapshot.costing, users, weights)
    return {
        "as_of": snapshot.position.day.isoformat(), "revision": snapshot.position.revision,
        "ingredient": record.code, "name": record.name, "base_unit": record.base_unit,
        "currency": kitchen.settings.currency, "unit_price": cost_in_words(impact.unit_price),
        "gaps": gap_documents(snapshot.costing.material_gaps(("ingredient", ingredient))),
        "summary": _summary(impact),
        "breakdowns": [_breakdown(reached, kitchen) for reached in impact.breakdowns],
        "cuts": [_reached(reached, lambda key: _name_of_cut(key, kitchen)) for reached in impact.cuts],
        "recipes": [_reached(reached, lambda key: kitchen.recipes[key[1]].name) for reached in impact.recipes],
        "dishes": [_dish(dish, impact) for dish in impact.dishes],
    }


def _summary(impact: Impact) -> Document:
    """The dishes counted by where they stand, and the price at which the first of them leaves."""
    leaving = [dish.leaves_at for dish in impact.dishes if dish.leaves_at is not None]
    return {
        "dishes": len(impact.dishes),
        "within_target": sum(dish.figures.within_target is True for dish in impact.dishes),
        "outside_target": sum(dish.figures.within_target is False for dish in impact.dishes),
        "first_leaves_at": cost_in_words(min(leaving, default=None)),
    }


def _reached(reached: Reached, name: Callable[[Key], str]) -> Document:
    kind, code = reached.key
    return {kind: code, "name": name(reached.key), "way": _way(reached),
            "one_more": cost_in_words(reached.weight)}


def _breakdown(reached: Reached, kitchen: KitchenOnDay) -> Document:
    breakdown = kitchen.breakdowns[reached.key[1]]
    return _reached(reached, lambda _: breakdown.name) | {"in_use": breakdown.in_use}


def _name_of_cut(key: Key, kitchen: KitchenOnDay) -> str:
    """As the first breakdown in use that makes it calls it."""
    outputs = (breakdown.output(key[1]) for _, breakdown in sorted(kitchen.breakdowns.items()) if breakdown.in_use)
    return next(output.name for output in outputs if output is not None and output.role.is_cut)


def _way(reached: Reached) -> list[Document]:
    return [{"kind": kind, "code": code} for kind, code in reached.way]


def _dish(dish: DishImpact, impact: Impact) -> Document:
    figures, price = dish.figures, dish.leaves_at if dish.back_at is None else dish.back_at
    change = None if price is None or not impact.unit_price else (price / impact.unit_price - 1) * 100
    return {
        "dish": figures.dish.code, "name": figures.dish.name, "section": figures.dish.section,
        "way": _way(dish.reached),
        "food_cost": cost_in_words(figures.food_cost),
        "food_cost_percent": percent_in_words(figures.food_cost_percent),
        "gross_profit": cost_in_words(figures.gross_profit),
        "target_food_cost_percent": percent_in_words(figures.terms.target * 100),
        "within_target": figures.within_target,
        "part": cost_in_words(dish.part), "part_percent": percent_in_words(dish.part_percent),
        "one_more": {
            "food_cost": cost_in_words(dish.reached.weight),
            "food_cost_percent": percent_in_words(dish.percent_of_one_more),
            "gross_profit": cost_in_words(dish.gross_profit_of_one_more)},
        "leaves_at": cost_in_words(dish.leaves_at), "back_at": cost_in_words(dish.back_at),
        "change_percent": percent_in_words(change), "reason": None if dish.reason is None else dish.reason.value,
    }
