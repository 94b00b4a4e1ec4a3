"""A whole menu by memoised recursion in Decimal, from a compiled network: what a what-if is held to.

Each factor and each term is prepared as one Decimal before the time is taken. Figures are whole numbers of their last
decimal place, as in `rivals`; what moved is told as text.
"""

from decimal import ROUND_CEILING, Decimal

from service.domain.kitchen import KitchenOnDay
from service.domain.menu import terms_of
from service.domain.network import Network
from tests.benchmarks.rivals import decimal, whole

Prepared = tuple[list[list[tuple[int, Decimal]]], list[Decimal], int]
Told = tuple[str | bool, ...]


class DecimalMenu:
    """The dishes of a kitchen, all priced, with the figures that they have before."""

    figures = ("food_cost", "food_cost_percent", "gross_profit", "gross_profit_percent", "target_menu_price",
               "within_target")
    places = (4, 2, 4, 2, 2)

    def __init__(self, network: Network, kitchen: KitchenOnDay) -> None:
        self._network = network
        self._terms = []
        for at, node in enumerate(network.nodes):
            if node.kind == "dish":
                dish = kitchen.dishes[node.code]
                terms = terms_of(dish, kitchen.settings)
                self._terms.append((at, node.code, decimal(terms.target * 100), Decimal(dish.menu_price or 0)
                                    / decimal(1 + terms.tax), decimal((1 + terms.tax) / terms.target),
                                    decimal(terms.step)))
        self._own = self._lines(network)
        self._before = self._rows(self._own)

    def _lines(self, network: Network) -> Prepared:
        lines = [[(edge.child, decimal(edge.factor * node.material_scale)) for edge in node.edges]
                 for node in network.nodes]
        own = [decimal(node.material) for node in network.nodes]
        return lines, own, sum(node.kind == "ingredient" for node in network.nodes)

    def prepared(self, network: Network) -> Prepared:
        """The lines once some nodes are others: only those are prepared anew."""
        lines, own, goods = list(self._own[0]), list(self._own[1]), self._own[2]
        for at, (node, was) in enumerate(zip(network.nodes, self._network.nodes, strict=True)):
            if node is not was:
                lines[at] = [(edge.child, decimal(edge.factor * node.material_scale)) for edge in node.edges]
                own[at] = decimal(node.material)
        return lines, own, goods

    def moved(self, prepared: Prepared) -> dict[str, Told]:
        """The figures after of every dish of which one is not what it was."""
        rows = self._rows(prepared)
        return {code: self._told(row) for (_, code, *_), row, was in zip(self._terms, rows, self._before, strict=True)
                if row != was}

    def _told(self, row: tuple[int, ...]) -> Told:
        texts = [str(Decimal(scaled).scaleb(-place)) for scaled, place in zip(row, self.places, strict=False)]
        return (*texts, bool(row[-1]))

    def _rows(self, prepared: Prepared) -> list[tuple[int, ...]]:
        lines, own, goods = prepared
        memo = dict(enumerate(own[:goods]))

        def cost(at: int) -> Decimal:
            value = memo.get(at)
            if value is None:
                value = own[at]
                for child, factor in lines[at]:
                    value += factor * cost(child)
                memo[at] = value
            return value

        rows = []
        for at, _, target, price, up, step in self._terms:
            food = cost(at)
            share = food / price
            percent = whole(share * 10_000)
            steps = (food * up / step).to_integral_value(ROUND_CEILING)
            rows.append((whole(food * 10_000), percent, whole((price - food) * 10_000), whole((1 - share) * 10_000),
                         whole(steps * step * 100), int(percent <= whole(target * 100))))
        return rows
