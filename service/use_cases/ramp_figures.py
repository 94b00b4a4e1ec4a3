"""A ramp: what every dish would cost and earn at each of a series of prices, from one compiled menu.

A step of a ramp moves prices and nothing else, so all steps share the lines, the terms and the bounds of the snapshot
they start from; each costs one pass over the lines. Nothing is stored.
"""

from collections.abc import Iterable, Sequence

from service.domain.compile import ingredient_node
from service.domain.kitchen import KitchenOnDay
from service.domain.published_menu import PublishedDishes
from service.domain.unit_prices import UnitPrices
from service.domain.very_same import others_of_either
from service.use_cases.snapshots import Snapshot


def ramp_columns(snapshot: Snapshot, kitchens: Iterable[KitchenOnDay]) -> Sequence[PublishedDishes]:
    """What every dish publishes in each of the kitchens, which differ from the snapshot's in prices alone.

    Shape:   one for each kitchen, in their order; each with one row per dish, in the order of its `codes`.
    Exact:   every digit is that of the dishes' rows in a snapshot of that kitchen.
    """
    return list(snapshot.menu.get().published_many(_prices(snapshot, kitchen) for kitchen in kitchens))


def _prices(snapshot: Snapshot, kitchen: KitchenOnDay) -> UnitPrices:
    network = snapshot.network
    moved = {network.index["ingredient", code]: ingredient_node(kitchen, code)
             for code in others_of_either(snapshot.kitchen.prices, kitchen.prices) if code in kitchen.ingredients}
    return snapshot.menu.get().compiled.prices_moved(snapshot.prices(), moved)
