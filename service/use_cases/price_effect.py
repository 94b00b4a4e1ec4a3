"""What a price list would do to the menu if all its clean rows were accepted: shown before anything is.

The dishes' figures before and after come out of the same functions as those of the real change. The effect of a single
row is linear: the part of each dish's cost that rests on the ingredient, times the change of its price.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from service.domain.ingredient_weights import menu_weights
from service.domain.price_review import Review
from service.domain.review_ground import Ground
from service.domain.reviewed_row import ReviewedRow, changed_by, held_back
from service.domain.row_finding import Standing
from service.domain.scenario import NewPrice
from service.use_cases.documents import Document
from service.use_cases.figures_under import MovedDish, moved_dishes
from service.use_cases.position import Position
from service.use_cases.snapshot import Snapshot
from service.use_cases.snapshots import Snapshots

MOST_DISHES_SHOWN = 1000


@dataclass(frozen=True, slots=True)
class RowEffect:
    """What one row does: the change of all dishes' food cost per portion together, and how many dishes it reaches."""

    food_cost: Fraction
    dishes: int


def day_of_effect(review: Review, today: date) -> date:
    """The day on which all clean rows have started, today at the earliest."""
    return max((today, *(one.price.starts for one in review.rows
                         if one.price is not None and one.standing is Standing.CLEAN)))


def effect_of_all(snapshots: Snapshots, position: Position, supplier: str, review: Review) -> Document:
    """The dishes that would move on the position's day, the most telling first."""
    moved = moved_dishes(snapshots, position, _supposed(supplier, review))
    shown = sorted((_shown(dish) for dish in moved), key=_telling)
    return {
        "as_of": position.day.isoformat(),
        "dishes_moved": len(shown),
        "leaving_target": sum(_leaves(dish) for dish in shown),
        "returning_to_target": sum(_returns(dish) for dish in shown),
        "dishes": shown[:MOST_DISHES_SHOWN],
    }


def effect_of_rows(snapshot: Snapshot, ground: Ground, rows: Sequence[ReviewedRow]) -> list[RowEffect | None]:
    """The effect of each row alone; None for one that has no price to compare, or whose price moves no figure."""
    weights = snapshot.kept("menu weights", lambda: menu_weights(snapshot.network))
    return [_row_effect(one, ground, weights) for one in rows]


def _row_effect(one: ReviewedRow, ground: Ground, weights: Mapping[str, tuple[Fraction, int]]) -> RowEffect | None:
    price, ingredient = one.price, one.ingredient
    if price is None or ingredient is None or not ground.decides(ingredient, price.starts):
        return None
    changed = changed_by(one, ground)
    if changed is None:
        return None
    if held_back(price, ground.in_force(ingredient.code, price.starts)):
        return RowEffect(Fraction(0), 0)
    weight, dishes = weights.get(ingredient.code, (Fraction(0), 0))
    return RowEffect(weight * (changed[0] - changed[1]), dishes)


def _supposed(supplier: str, review: Review) -> list[NewPrice]:
    return [NewPrice(one.price.ingredient, supplier, one.price.amount, one.price.pack_quantity, one.price.pack_unit,
                     one.price.starts, one.price.ends)
            for one in review.rows if one.price is not None and one.standing is Standing.CLEAN]


def _shown(moved: MovedDish) -> Document:
    before, after = moved.before or {}, moved.after or {}
    costs = before.get("food_cost"), after.get("food_cost")
    change = None if None in costs else f"{Decimal(str(costs[1])) - Decimal(str(costs[0])):f}"
    return {
        "dish": moved.code,
        "name": (moved.after or before)["name"],
        "food_cost_before": costs[0],
        "food_cost_after": costs[1],
        "change": change,
        "food_cost_percent_before": before.get("food_cost_percent"),
        "food_cost_percent_after": after.get("food_cost_percent"),
        "target_food_cost_percent": after.get("target_food_cost_percent"),
        "within_target_before": before.get("within_target"),
        "within_target_after": after.get("within_target"),
    }


def _telling(dish: Document) -> tuple[bool, bool, Decimal, str]:
    """Those that leave their target first, then those whose cost would be unknown, then by the size of the change."""
    loses = dish["food_cost_before"] is not None and dish["food_cost_after"] is None
    return not _leaves(dish), not loses, -abs(Decimal(dish["change"] or 0)), dish["dish"]


def _leaves(dish: Document) -> bool:
    return dish["within_target_before"] is True and dish["within_target_after"] is False


def _returns(dish: Document) -> bool:
    return dish["within_target_before"] is False and dish["within_target_after"] is True
