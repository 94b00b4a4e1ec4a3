"""What the dishes above a change publish, from the figures that everything had before: at one or many sets of prices.

Rules that always hold: each digit is the one that the whole menu, compiled and swept anew, publishes; the dishes that
nothing changed stands below publish what they did.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property, reduce

import numpy as np

from service.domain.above import Above, Lines
from service.domain.channel import SLACK, UNIT
from service.domain.decimal_column import DecimalColumn
from service.domain.denominators import Floats, Whole, shared
from service.domain.dish_costs import DishCosts, Rows, settled
from service.domain.menu_terms import MenuTerms
from service.domain.network import NIL, Node
from service.domain.published_menu import PublishedDishes, published_of
from service.domain.settle import ExactValues, Mask, exact_labour
from service.domain.sweep import SweptFigures, price_of
from service.domain.unit_prices import UnitPrices

Prices = Mapping[int, Node]
"""Ingredients by index, at other prices than in the network."""
TermsOf = Callable[[Rows, Floats, Floats], MenuTerms]
"""What some dishes are sold on, given K and n of their bounds."""


@dataclass(frozen=True)
class MovedDishes:
    """What some dishes publish: their rows in the order of all codes, and at each set of prices their figures."""

    rows: Rows
    at: Sequence[PublishedDishes]

    def among(self, before: PublishedDishes, step: int = 0) -> PublishedDishes:
        """All dishes at one set of prices: the others as they were."""
        return before.with_rows(self.rows, self.at[step])


def published_above(above: Above, before: SweptFigures, columns: PublishedDishes, terms: TermsOf,
                    prices: Sequence[Prices]) -> MovedDishes | None:
    """What the dishes above a change publish at each set of prices, given how all were swept and published before;
    None where floats cannot be believed and all has to be made anew."""
    swept = _Swept.of(above, before, prices)
    if swept is None:
        return None
    rows, sets = above.dishes(), len(prices)
    every = published_of(swept.material(), terms(rows, *swept.bounds()).tiled(sets), swept.known_food_cost,
                         lambda: swept.labour_cost(columns.labour_cost.tiled(rows, sets)))
    return MovedDishes(rows, [every] if sets == 1 else [
        every.part(slice(at * len(rows), (at + 1) * len(rows))) for at in range(sets)])


class _Swept:
    """What stands above a change, swept at some sets of prices: local places x sets; dishes set after set."""

    def __init__(self, above: Above, before: SweptFigures, prices: Sequence[Prices], moved: Sequence[UnitPrices],
                 lines: Lines) -> None:
        self._above, self._before, self._prices, self._moved, self._lines = above, before, prices, moved, lines
        self._dishes = slice(len(above.rows) - len(above.dishes()), None)
        self._exact = [self._exactly(at, None) for at in range(len(prices))]
        self._fallen: list[list[int]] = [[] for _ in prices]
        self._values = self._swept()

    @classmethod
    def of(cls, above: Above, before: SweptFigures, prices: Sequence[Prices]) -> "_Swept | None":
        """None where floats cannot be believed."""
        lines = Lines(above, above.compiled.material, 0)
        indices = above.compiled.shape.order[above.prices].tolist()
        nodes = above.network.nodes
        moved = [UnitPrices.of([price_of(each.get(index, nodes[index])) for index in indices]) for each in prices]
        if not (before.in_range and lines.holds and all(one.in_range() for one in moved)):
            return None
        return cls(above, before, prices, moved, lines)

    def bounds(self) -> tuple[Floats, Floats]:
        """K and n of the dishes' bounds."""
        return self._lines.roundings[self._dishes], self._lines.negative[self._dishes]

    def material(self) -> DishCosts:
        """The food cost of the dishes."""
        return self._costs(self._lines, self._values, self._of_material, self._exact)

    def known_food_cost(self) -> DecimalColumn:
        """What the food cost is at least."""
        above, before, lines = self._above, self._before, self._lines
        known, _ = before.known
        wholly = above.compiled.counts_wholly[above.rows][:, np.newaxis]
        nil = np.isnan(self._values[above.own_from:]) & wholly
        values = self._spread(known, np.nan_to_num(self._of_prices()), lines.own_known)
        values[above.own_from:][nil] = 0.0
        for level in above.levels:
            above.lift(level, lines.coefficients, values)
            values[level.low:level.high][nil[level.low - above.own_from:level.high - above.own_from]] = 0.0
        exact = [self._exactly(at, self._nil(nil[:, at], at)) for at in range(len(self._prices))]
        return settled(self._costs(lines, values, self._of_material, exact))

    def labour_cost(self, before: DecimalColumn) -> DecimalColumn:
        """The labour of the dishes; as it was where no line is another and no other pool has fallen below zero."""
        above = self._above
        if not above.anew.any() and all(self._same_pools_fell(fallen) for fallen in self._fallen):
            return before
        lines = Lines(above, above.compiled.labour, 1)
        values = self._spread(self._before.labour, np.zeros((len(above.prices), len(self._prices))), lines.own)
        for at, fallen in enumerate(self._fallen):
            values[fallen, at] = np.nan
        exact = exact_labour(above.network)
        costs = self._costs(lines, above.swept(lines.coefficients, values), self._of_labour,
                            [exact] * len(self._prices))
        return settled(replace(costs, in_range=lines.holds))

    def _swept(self) -> Floats:
        above, lines = self._above, self._lines
        values = self._spread(self._before.material, self._of_prices(), lines.own)
        suspect = self._suspects()
        for level in above.levels:
            above.lift(level, lines.coefficients, values)
            pools = level.low + np.flatnonzero(suspect[level.low - above.own_from:level.high - above.own_from])
            if pools.size:
                self._fell(values, pools)
        return values

    def _suspects(self) -> Mask:
        """The rows that are pools and could come out below zero."""
        return self._above.compiled.could_fall[self._above.rows] & (self._lines.negative > 0)

    def _fell(self, values: Floats, pools: Rows) -> None:
        """Leave the pools that are below zero without a number, each decided by its bound or exactly."""
        above, rows = self._above, pools - self._above.own_from
        unit = self._lines.roundings[rows] * (UNIT * SLACK)
        material = values[pools]
        bound = unit[:, np.newaxis] * (material + 2 * self._lines.negative[rows][:, np.newaxis])
        below = material < -bound
        for place, at in np.argwhere(np.abs(material) <= bound).tolist():
            below[place, at] = self._exact[at](int(above.compiled.shape.order[above.rows[rows[place]]])) < 0
        for place, at in np.argwhere(below).tolist():
            values[pools[place], at] = np.nan
            self._fallen[at].append(int(pools[place]))

    def _same_pools_fell(self, fallen: Sequence[int]) -> bool:
        were = set(self._before.below_zero).intersection(self._above.rows.tolist()) if self._before.below_zero else ()
        return {int(self._above.rows[place - self._above.own_from]) for place in fallen} == set(were)

    def _of_prices(self) -> Floats:
        return np.stack([one.values for one in self._moved], axis=1)

    def _spread(self, below: Floats, prices: Floats, own: Floats) -> Floats:
        """Local values before they are lifted: of what is outside those it had."""
        above, sets = self._above, len(self._prices)
        values = np.empty((above.own_from + len(above.rows), sets))
        values[:len(above.outside)] = below[above.outside][:, np.newaxis]
        values[len(above.outside):above.own_from] = prices
        values[above.own_from:] = own[:, np.newaxis]
        return values

    def _costs(self, lines: Lines, values: Floats, denominators: Callable[[], Whole],
               exact: Sequence[ExactValues]) -> DishCosts:
        above, sets, at = self._above, len(self._prices), self._dishes
        indices = above.compiled.shape.order[above.rows[at]].tolist()
        return DishCosts(
            np.ascontiguousarray(values[above.own_from:][at].T).reshape(-1), np.tile(lines.roundings[at], sets),
            np.tile(lines.negative[at], sets), True, lambda rows: denominators()[at][rows % len(indices)],
            lambda row: exact[row // len(indices)](indices[row % len(indices)]))

    def _of_material(self) -> Whole:
        return self._material_denominators

    @cached_property
    def _material_denominators(self) -> Whole:
        above, compiled = self._above, self._above.compiled
        outside = compiled.material_denominators.of(self._before.prices.denominators, above.outside)
        return self._lines.denominators(outside, reduce(shared, [one.denominators for one in self._moved]))

    def _of_labour(self) -> Whole:
        above, compiled = self._above, self._above.compiled
        ones = np.ones(compiled.shape.prices, dtype=np.int64)
        return Lines(above, compiled.labour, 1).denominators(
            compiled.labour_denominators.of(ones, above.outside), ones[above.prices])

    def _nil(self, nil: Mask, at: int) -> Mask:
        """By index, what counts as nil at a set of prices: outside what did, of these rows and prices what does."""
        above, compiled = self._above, self._above.compiled
        found = np.isnan(self._before.material) & compiled.counts_wholly
        found[above.rows] = nil
        found[above.prices] = np.isnan(self._moved[at].values)
        of_nodes: Mask = found[compiled.positions]
        return of_nodes

    def _exactly(self, at: int, nil: Mask | None) -> ExactValues:
        nodes, moved = self._above.network.nodes, self._prices[at]

        def own(index: int) -> Fraction:
            node = moved.get(index, nodes[index])
            return NIL if node.kind == "ingredient" and node.material_gaps else node.material

        return ExactValues(self._above.network, own, scaled=True, nil=nil)
