"""Recomputing all dishes after all prices have changed: the sweep beside recursive Decimal and levelled SQL.

    env -u OPENBLAS_NUM_THREADS python -m tests.benchmarks.recompute [dishes ...] [--rounds 5]

In every round all prices are new, each side costs the same catalogue one after the other, and every published digit of
each is compared with exact fractions. The sweep, which is over before the clock has ticked much, runs on REPEATS
further sets of prices in each round and counts their mean. Times are processor seconds of this process (other work on
the machine does not count), the median of the rounds; ratios are to the sweep, with the least and the greatest of any
round. Give no ratio smaller than that spread. SQL's prices are stored outside the time taken, in its favour.
"""

import argparse
import gc
import json
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from statistics import median

import numpy as np

from service.domain.menu_terms import MenuTerms
from service.domain.published_menu import PublishedDishes, food_costs, published_dishes
from service.domain.sweep import CompiledSweep, sweep
from service.domain.unit_prices import UnitPrices
from tests.benchmarks.catalogue import SETTINGS, Catalogue, a_catalogue
from tests.benchmarks.results import Asked, Result, ratios
from tests.benchmarks.rivals import FIGURES, ExactJudge, LevelledSql, RecursiveDecimal, Row

SWEEP, DECIMAL, SQL = "sweep, exact digits", "recursive Decimal", "levelled SQL (SQLite)"
FOOD, ALL, TEXT = "food cost at 4 places", "all figures of a dish", "text and bytes of all answers"
WARM_UPS = 3
REPEATS = 20


@dataclass
class Tally:
    """What one side took in each round of one task, and how many of its published figures were wrong."""

    seconds: list[float] = field(default_factory=list)
    wrong: int = 0


class Bench:
    """One catalogue, all sides prepared."""

    def __init__(self, dishes: int) -> None:
        self.catalogue: Catalogue = a_catalogue(dishes)
        self.judge = ExactJudge(self.catalogue)
        self.decimal = RecursiveDecimal(self.catalogue)
        self.sql = LevelledSql(self.catalogue)
        self.compiled = CompiledSweep.of(self.catalogue.network)
        self.terms = MenuTerms.of(self.compiled, self.catalogue.dishes, SETTINGS)
        self.per = np.full(self.catalogue.goods, 100, dtype=np.int64)
        self.tallies: dict[tuple[str, str], Tally] = {}
        self.settled: list[int] = []
        for warm_up in range(WARM_UPS):
            self.published(np.array(self.catalogue.cents(-1 - warm_up), dtype=np.int64))

    def published(self, cents: "np.ndarray") -> PublishedDishes:
        return published_dishes(sweep(self.compiled, UnitPrices.scaled(cents, self.per)), self.terms)

    def food_costs(self, cents: "np.ndarray") -> list[int]:
        return food_costs(sweep(self.compiled, UnitPrices.scaled(cents, self.per))).scaled

    def timed(self, task: str, side: str, work: Callable[[], object]) -> object:
        gc.collect()
        start = time.process_time()
        result = work()
        self.tallies.setdefault((task, side), Tally()).seconds.append(time.process_time() - start)
        return result

    def swept(self, task: str, work: Callable[["np.ndarray"], object], cents: "np.ndarray") -> object:
        """The sweep's side: each repeat has prices of its own, every one of them new."""
        others = [np.roll(cents, shift) for shift in range(1, REPEATS + 1)]
        gc.collect()
        start = time.process_time()
        for other in others:
            work(other)
        self.tallies.setdefault((task, SWEEP), Tally()).seconds.append((time.process_time() - start) / REPEATS)
        return work(cents)

    def round(self, number: int) -> None:
        cents = self.catalogue.cents(number)
        array = np.array(cents, dtype=np.int64)
        decimals = [Decimal(cent) / 100 for cent in cents]
        self.sql.store([cent / 100 for cent in cents])
        exact = self.judge.rows(cents)
        food = [row[0] for row in exact]
        for side, work in ((DECIMAL, lambda: self.decimal.food_costs(decimals)), (SQL, self.sql.food_costs)):
            self.count(FOOD, side, [[cost] for cost in self.timed(FOOD, side, work)], [[cost] for cost in food])
        swept = self.swept(FOOD, self.food_costs, array)
        self.count(FOOD, SWEEP, [[cost] for cost in swept], [[cost] for cost in food])
        by_decimal = self.timed(ALL, DECIMAL, lambda: self.decimal.rows(decimals))
        by_sql = self.timed(ALL, SQL, self.sql.rows)
        dishes = self.swept(ALL, self.published, array)
        self.settled.append(dishes.settled_exactly)
        by_sweep = rows_of(dishes)
        for side, rows in ((DECIMAL, by_decimal), (SQL, by_sql), (SWEEP, by_sweep)):
            self.count(ALL, side, rows, exact)
        ours = self.timed(TEXT, SWEEP, lambda: texts_of(dishes))
        theirs = self.timed(TEXT, DECIMAL, lambda: decimal_texts(dishes.codes, by_decimal))
        again = self.timed(TEXT, SQL, lambda: decimal_texts(dishes.codes, by_sql))
        self.bytes = (len(ours), len(theirs), len(again))
        if ours != decimal_texts(dishes.codes, exact):
            raise SystemExit("the bytes of the sweep's answers are not those of exact arithmetic")

    def count(self, task: str, side: str, found: Sequence[Sequence[int]], exact: Sequence[Sequence[int]]) -> None:
        self.tallies[task, side].wrong += sum(
            int(mine) != true for row, truth in zip(found, exact, strict=True)
            for mine, true in zip(row, truth, strict=True))


def rows_of(dishes: PublishedDishes) -> list[Row]:
    columns = [getattr(dishes, name) for name in FIGURES]
    return list(zip(*(getattr(column, "scaled", column).tolist() for column in columns), strict=True))


def texts_of(dishes: PublishedDishes) -> bytes:
    """The answers from columns of text and one template; figures are digits, so that nothing needs escaping."""
    texts = [getattr(dishes, name).texts() for name in FIGURES[:-1]]
    within = ["true" if answer else "false" for answer in dishes.within_target.tolist()]
    fields = ", ".join(f'"{name}": "%s"' for name in FIGURES[:-1])
    row = f'{{"dish": "%s", {fields}, "within_target": %s}}'
    rows = [row % figures for figures in zip(dishes.codes, *texts, within, strict=True)]
    return ('{"data": [' + ", ".join(rows) + "]}").encode()


def decimal_texts(codes: Sequence[str], rows: Sequence[Row]) -> bytes:
    """The answers of a rival, the usual way: a Decimal for each figure, and a JSON encoder."""
    places = (4, 2, 4, 2, 2)
    data = []
    for code, row in zip(codes, rows, strict=True):
        figures = {name: str(Decimal(scaled).scaleb(-place))
                   for name, scaled, place in zip(FIGURES, row, places, strict=False)}
        data.append({"dish": code, **figures, "within_target": bool(row[-1])})
    return json.dumps({"data": data}).encode()


def report(bench: Bench) -> None:
    catalogue = bench.catalogue
    lines = sum(len(node.edges) for node in catalogue.network.nodes)
    print(f"\n{len(catalogue.dishes)} dishes, {len(catalogue.network.nodes)} nodes, {lines} lines")
    print(f"{'':34}{'ms':>10}{'x sweep':>10}{'least..most':>16}{'wrong figures':>15}")
    for (task, side), tally in bench.tallies.items():
        base = bench.tallies[task, SWEEP].seconds
        ratios = [mine / ours for mine, ours in zip(tally.seconds, base, strict=True)]
        wrong = "-" if task == TEXT else str(tally.wrong)
        print(f"{task[:31]:32}{'':2}{median(tally.seconds) * 1e3:10.2f}{median(ratios):10.1f}"
              f"{min(ratios):9.1f}..{max(ratios):<6.1f}{wrong:>14}  {side}")
    print(f"settled exactly by the sweep, per round: {bench.settled}; bytes of all answers: {bench.bytes}")


def measured(dishes: int, rounds: int) -> Bench:
    """A catalogue that has been through all rounds."""
    bench = Bench(dishes)
    for number in range(1, rounds + 1):
        bench.round(number)
    return bench


def results(asked: Asked) -> Iterator[Result]:
    """How many times as long as the sweep each other way takes."""
    for dishes in asked.of((30,), (500, 10_000), (500, 10_000)):
        bench = measured(dishes, asked.rounds)
        if any(tally.wrong for (_, side), tally in bench.tallies.items() if side == SWEEP):
            raise SystemExit("the sweep published a digit that exact fractions do not")
        for (task, side), tally in bench.tallies.items():
            if side != SWEEP:
                yield Result(f"{task}, {dishes} dishes: {side}", SWEEP, ratios(
                    tally.seconds, bench.tallies[task, SWEEP].seconds))


def main() -> None:
    parser = argparse.ArgumentParser(description="Ratios of recomputing all dishes after all prices have changed.")
    parser.add_argument("dishes", nargs="*", type=int, default=[500, 10_000])
    parser.add_argument("--rounds", type=int, default=5)
    asked = parser.parse_args()
    for dishes in asked.dishes:
        report(measured(dishes, asked.rounds))


if __name__ == "__main__":
    main()
