"""What moved on the whole menu: the movements of its dishes, weighted by covers where they are given, else equally.

Rules that always hold, in whole units of the last published decimal:

    change = sum over dishes (covers x change of the dish) = sum of shares + rounding + other
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from service.domain.price_movement import DishMovement, Status

Covers = Mapping[str, int]


@dataclass(frozen=True, slots=True)
class MenuMovement:
    """How the food cost of the menu moved.

    Shape:   `dishes` counts those whose movement is in it, `without_movement` those whose cannot be said (with covers,
             only those that have some).
    Units:   whole units of the last published decimal (0.0001) of money: for so many portions of each dish, or one.
    """

    change: int
    shares: Mapping[str, int]
    rounding: int
    other: int
    dishes: int
    without_movement: int


def menu_movement(dishes: Iterable[DishMovement], covers: Covers | None = None) -> MenuMovement:
    """The sum over the dishes; a dish without covers, where others have some, counts nothing."""
    weighted = [(dish, 1 if covers is None else covers.get(dish.code, 0)) for dish in dishes]
    counted = [(dish, weight) for dish, weight in weighted if weight and dish.status is Status.COMPLETE]
    shares: dict[str, int] = {}
    for dish, weight in counted:
        for ingredient, share in dish.shares.items():
            shares[ingredient] = shares.get(ingredient, 0) + weight * share
    return MenuMovement(
        change=sum(weight * (dish.change or 0) for dish, weight in counted),
        shares=shares,
        rounding=sum(weight * dish.rounding for dish, weight in counted),
        other=sum(weight * dish.other for dish, weight in counted),
        dishes=len(counted),
        without_movement=sum(weight > 0 for _, weight in weighted) - len(counted))
