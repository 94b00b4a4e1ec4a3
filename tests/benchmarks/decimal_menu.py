"""A whole menu by memoised recursion in Decimal, from a compiled network: what a what-if is held to.

Each factor and each term is prepared as one Decimal before the time is taken. Figures are whole numbers of their last
decimal place, as in `rivals`; what moved is told as text. It publishes what a row of the dishes' costs does: food cost
(which is the known one too, all being priced), labour, percent, profit, target price, within target; price before tax
and target percent are those of the dish. Labour does not move with prices: where nothing else moves, it is as it was.
"""

from decimal import ROUND_CEILING, Decimal
from typing import NamedTuple

from service.domain.kitchen import KitchenOnDay
from service.domain.menu import terms_of
from service.domain.network import Network, Node
from tests.benchmarks.rivals import decimal, whole

Lines = list[list[tuple[int, Decimal]]]


class Prepared(NamedTuple):
    """Per node its lines and constant, of material and of labour; so many ingredients come first."""

    lines: Lines
    own: list[Decimal]
    labour_lines: Lines
    labour: list[Decimal]
    goods: int


Told = tuple[str | bool, ...]


class DecimalMenu:
    """The dishes of a kitchen, all priced, with the figures that they have before."""

    figures = ("food_cost", "food_cost_percent", "gross_profit", "gross_profit_percent", "target_menu_price",
               "labour_cost", "within_target")
    places = (4, 2, 4, 2, 2, 4)

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
        self._own = _prepared(network)
        self._labour = self._labour_costs(self._own)
        self._before = self._rows(self._own, self._labour)

    def prepared(self, network: Network) -> Prepared:
        """The lines once some nodes are others: only those are prepared anew."""
        after = Prepared(*(list(part) for part in self._own[:4]), self._own.goods)
        for at, (node, was) in enumerate(zip(network.nodes, self._network.nodes, strict=True)):
            if node is not was:
                after.lines[at], after.own[at], after.labour_lines[at], after.labour[at] = _node(node)
        return after

    def moved(self, prepared: Prepared, only_prices: bool) -> dict[str, Told]:
        """The figures after of every dish of which one is not what it was."""
        rows = self._rows(prepared, self._labour if only_prices else self._labour_costs(prepared))
        return {code: self._told(row) for (_, code, *_), row, was in zip(self._terms, rows, self._before, strict=True)
                if row != was}

    def _told(self, row: tuple[int, ...]) -> Told:
        texts = [str(Decimal(scaled).scaleb(-place)) for scaled, place in zip(row, self.places, strict=False)]
        return (*texts, bool(row[-1]))

    def _labour_costs(self, prepared: Prepared) -> list[int]:
        costs = self._costs(prepared.labour_lines, prepared.labour, prepared.goods)
        return [whole(cost * 10_000) for cost in costs]

    def _costs(self, lines: Lines, own: list[Decimal], goods: int) -> list[Decimal]:
        memo = dict(enumerate(own[:goods]))

        def cost(at: int) -> Decimal:
            value = memo.get(at)
            if value is None:
                value = own[at]
                for child, factor in lines[at]:
                    value += factor * cost(child)
                memo[at] = value
            return value

        return [cost(at) for at, *_ in self._terms]

    def _rows(self, prepared: Prepared, labour: list[int]) -> list[tuple[int, ...]]:
        rows = []
        costs = self._costs(prepared.lines, prepared.own, prepared.goods)
        for food, minutes, (_, _, target, price, up, step) in zip(costs, labour, self._terms, strict=True):
            share = food / price
            percent = whole(share * 10_000)
            steps = (food * up / step).to_integral_value(ROUND_CEILING)
            rows.append((whole(food * 10_000), percent, whole((price - food) * 10_000), whole((1 - share) * 10_000),
                         whole(steps * step * 100), minutes, int(percent <= whole(target * 100))))
        return rows


def _prepared(network: Network) -> Prepared:
    nodes = [_node(node) for node in network.nodes]
    return Prepared(*(list(part) for part in zip(*nodes, strict=True)),
                    sum(node.kind == "ingredient" for node in network.nodes))


def _node(node: Node) -> tuple[list[tuple[int, Decimal]], Decimal, list[tuple[int, Decimal]], Decimal]:
    return ([(edge.child, decimal(edge.factor * node.material_scale)) for edge in node.edges], decimal(node.material),
            [(edge.child, decimal(edge.factor)) for edge in node.edges], decimal(node.labour))
