"""A ramp: what the dishes would cost and earn at each of a series of prices, from one compiled menu.

A step of a ramp moves prices and nothing else, so all steps share the lines, the terms and the bounds of the snapshot
they start from, and the figures of every dish that stands above none of the prices. Nothing is stored.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from service.domain.compile import ingredient_node
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Node
from service.domain.published_menu import PublishedDishes
from service.domain.very_same import others_of_either
from service.use_cases.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class RampColumns:
    """What the dishes publish at each step.

    Shape:   `rows` are those that can move, in the order of the codes of `start`, which holds every dish as it is
             before; each of `steps` holds these rows alone.
    """

    start: PublishedDishes
    rows: Sequence[int]
    steps: Sequence[PublishedDishes]

    def whole(self) -> Iterator[PublishedDishes]:
        """Every dish at each step."""
        return (self.start.with_rows(self.rows, step) for step in self.steps)


def ramp_columns(snapshot: Snapshot, kitchens: Iterable[KitchenOnDay]) -> RampColumns:
    """What every dish publishes in each of the kitchens, which differ from the snapshot's in prices alone.

    Shape:   a step for each kitchen, in their order.
    Exact:   every digit is that of the dishes' rows in a snapshot of that kitchen.
    """
    menu, start = snapshot.menu.get(), snapshot.columns()
    prices = [_prices(snapshot, kitchen) for kitchen in kitchens]
    moved = menu.moved_at(snapshot.swept(), start, prices)
    if moved is not None:
        return RampColumns(start, moved.rows.tolist(), moved.at)
    return RampColumns(start, range(len(start.codes)), list(menu.published_many(
        menu.compiled.prices_moved(snapshot.prices(), nodes) for nodes in prices)))


def _prices(snapshot: Snapshot, kitchen: KitchenOnDay) -> Mapping[int, Node]:
    """The ingredients at other prices than in the snapshot, by index."""
    return {snapshot.network.index["ingredient", code]: ingredient_node(kitchen, code)
            for code in others_of_either(snapshot.kitchen.prices, kitchen.prices) if code in kitchen.ingredients}
