"""The other ways to cost a menu, and the judge: memoised recursive Decimal, levelled SQL, exact fractions.

Each ends in the same thing: per dish, whole numbers of the last decimal place, in the order of FIGURES. What can be
prepared before prices are known is prepared (factors, prices before tax, tables with indexes), outside the time taken.
"""

import sqlite3
from collections.abc import Sequence
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from fractions import Fraction

from service.domain.menu import terms_of
from tests.benchmarks.catalogue import SETTINGS, Catalogue

FIGURES = ("food_cost", "food_cost_percent", "gross_profit", "gross_profit_percent", "target_menu_price",
           "within_target")
Row = tuple[int, ...]


def terms_per_dish(catalogue: Catalogue) -> list[tuple[int, Fraction, Fraction, Fraction, Fraction]]:
    """Per dish: its node, price before tax, (1 + tax) / target, price step, target in percent."""
    found = []
    for index, node in enumerate(catalogue.network.nodes):
        if node.kind == "dish":
            dish = catalogue.dishes[node.code]
            terms = terms_of(dish, SETTINGS)
            found.append((index, Fraction(dish.menu_price or 0) / (1 + terms.tax), (1 + terms.tax) / terms.target,
                          terms.step, terms.target * 100))
    return found


def half_up(value: Fraction) -> int:
    units = (2 * abs(value.numerator) + value.denominator) // (2 * value.denominator)
    return units if value >= 0 else -units


class ExactJudge:
    """A forward pass in fractions: what every side is held against."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.nodes = catalogue.network.nodes
        self.terms = terms_per_dish(catalogue)

    def rows(self, cents: Sequence[int]) -> list[Row]:
        cost: list[Fraction] = []
        for at, node in enumerate(self.nodes):
            below = sum((edge.factor * cost[edge.child] for edge in node.edges), Fraction(0))
            cost.append(Fraction(cents[at], 100) if at < len(cents) else below * node.material_scale + node.material)
        return [self._row(cost[at], price, up, step, target) for at, price, up, step, target in self.terms]

    def _row(self, cost: Fraction, price: Fraction, up: Fraction, step: Fraction, target: Fraction) -> Row:
        percent = half_up(cost / price * 10_000)
        return (half_up(cost * 10_000), percent, half_up((price - cost) * 10_000),
                half_up((1 - cost / price) * 10_000), half_up(-(-cost * up // step) * step * 100),
                int(percent <= half_up(target * 100)))


class RecursiveDecimal:
    """Memoised recursion in Decimal at its default 28 digits, with every factor prepared as one Decimal."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.lines = [[(edge.child, decimal(edge.factor * node.material_scale)) for edge in node.edges]
                      for node in catalogue.network.nodes]
        self.own = [decimal(node.material) for node in catalogue.network.nodes]
        self.terms = [(at, *map(decimal, terms)) for at, *terms in terms_per_dish(catalogue)]

    def costs(self, prices: Sequence[Decimal]) -> dict[int, Decimal]:
        memo = dict(enumerate(prices))
        lines, own = self.lines, self.own

        def cost(at: int) -> Decimal:
            value = memo.get(at)
            if value is None:
                value = own[at]
                for child, factor in lines[at]:
                    value += factor * cost(child)
                memo[at] = value
            return value

        return {at: cost(at) for at, *_ in self.terms}

    def food_costs(self, prices: Sequence[Decimal]) -> list[int]:
        return [whole(cost * 10_000) for cost in self.costs(prices).values()]

    def rows(self, prices: Sequence[Decimal]) -> list[Row]:
        costs = self.costs(prices)
        rows = []
        for at, price, up, step, target in self.terms:
            cost = costs[at]
            share = cost / price
            percent = whole(share * 10_000)
            steps = (cost * up / step).to_integral_value(ROUND_CEILING)
            rows.append((whole(cost * 10_000), percent, whole((price - cost) * 10_000), whole((1 - share) * 10_000),
                         whole(steps * step * 100), int(percent <= whole(target * 100))))
        return rows


def decimal(value: Fraction) -> Decimal:
    return Decimal(value.numerator) / Decimal(value.denominator)


def whole(value: Decimal) -> int:
    return int(value.to_integral_value(ROUND_HALF_UP))


class LevelledSql:
    """SQLite in memory: one INSERT .. SELECT per level over REAL columns, then the figures by SQL's own round()."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.db = sqlite3.connect(":memory:")
        nodes = catalogue.network.nodes
        level: list[int] = []
        for node in nodes:
            level.append(1 + max((level[edge.child] for edge in node.edges), default=-1))
        self.levels = range(1, max(level) + 1)
        run = self.db.execute
        run("CREATE TABLE price (node INTEGER PRIMARY KEY, price REAL)")
        run("CREATE TABLE line (level INT, parent INT, child INT, factor REAL, own REAL)")
        run("CREATE TABLE dish (node INTEGER PRIMARY KEY, price REAL, up REAL, step REAL, target REAL)")
        run("CREATE TABLE cost (node INTEGER PRIMARY KEY, cost REAL)")
        self.db.executemany("INSERT INTO line VALUES (?, ?, ?, ?, ?)", [
            (level[at], at, edge.child, float(edge.factor * node.material_scale), float(node.material))
            for at, node in enumerate(nodes) for edge in node.edges])
        self.db.executemany("INSERT INTO dish VALUES (?, ?, ?, ?, ?)",
                            [(at, *map(float, terms)) for at, *terms in terms_per_dish(catalogue)])
        run("CREATE INDEX by_level ON line (level, parent, child, factor, own)")
        run("ANALYZE")

    def store(self, prices: Sequence[float]) -> None:
        """The new prices, stored outside the time taken."""
        self.db.execute("DELETE FROM price")
        self.db.executemany("INSERT INTO price VALUES (?, ?)", list(enumerate(prices)))

    def _cost(self) -> None:
        self.db.execute("DELETE FROM cost")
        self.db.execute("INSERT INTO cost SELECT node, price FROM price")
        for level in self.levels:
            self.db.execute("INSERT INTO cost SELECT l.parent, min(l.own) + sum(l.factor * c.cost) FROM line l "
                            "JOIN cost c ON c.node = l.child WHERE l.level = ? GROUP BY l.parent", (level,))

    def food_costs(self) -> list[int]:
        self._cost()
        found = self.db.execute("SELECT CAST(round(cost * 10000) AS INTEGER) FROM dish JOIN cost USING (node) "
                                "ORDER BY node")
        return [cost for (cost,) in found]

    def rows(self) -> list[Row]:
        self._cost()
        return self.db.execute(
            "SELECT f, p, g, q, t, p <= CAST(round(target * 100) AS INTEGER) FROM (SELECT node, target,"
            " CAST(round(cost * 10000) AS INTEGER) f, CAST(round(cost / price * 10000) AS INTEGER) p,"
            " CAST(round((price - cost) * 10000) AS INTEGER) g, CAST(round((1 - cost / price) * 10000) AS INTEGER) q,"
            " CAST(round(ceil(cost * up / step) * step * 100) AS INTEGER) t"
            " FROM dish JOIN cost USING (node)) ORDER BY node").fetchall()
