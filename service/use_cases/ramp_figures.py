"""A ramp: what every dish would cost and earn at each of a series of prices, from one compiled menu.

A step of a ramp moves prices and nothing else, so all steps share the lines, the terms and the bounds of the snapshot
they start from; each costs one pass over the lines. Nothing is stored.
"""

from collections.abc import Sequence

from service.domain.compile import repriced
from service.domain.kitchen import KitchenOnDay
from service.domain.published_menu import PublishedDishes
from service.use_cases.snapshots import Snapshot


def ramp_columns(snapshot: Snapshot, kitchens: Sequence[KitchenOnDay]) -> Sequence[PublishedDishes]:
    """What every dish publishes in each of the kitchens, which differ from the snapshot's in prices alone.

    Shape:   one for each kitchen, in their order; each with one row per dish, in the order of its `codes`.
    Exact:   every digit is that of the dishes' rows in a snapshot of that kitchen.
    """
    menu = snapshot.menu.get()
    return [menu.published(repriced(snapshot.network, kitchen, _priced_otherwise(snapshot.kitchen, kitchen)))
            for kitchen in kitchens]


def _priced_otherwise(one: KitchenOnDay, other: KitchenOnDay) -> set[str]:
    """The ingredients whose recorded prices are not the very same."""
    return {code for code in one.prices.keys() | other.prices.keys()
            if one.prices.get(code) is not other.prices.get(code)}
