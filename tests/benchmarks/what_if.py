"""What if: one change, a ramp, and a thousand sets of prices, each beside what it is held to, in one run.

    env -u OPENBLAS_NUM_THREADS OMP_NUM_THREADS=1 python -m tests.benchmarks.what_if [dishes] [--rounds 5]

In every round each side does its part one after the other, on changes that are new in each. Times are processor seconds
of this process and those of the clock; ratios are of processor seconds, the median of the rounds with the least and the
greatest. Give no ratio smaller than that spread. What takes milliseconds is done
several times on end, each time from nothing, and its mean taken.

a. One what-if over all dishes (a primal dearer; another yield of it), from the changes to the rows before and after of
   every dish that moves: against memoised recursive Decimal over the same network, in which all is prepared but the
   change (the yield's new factors are given to it), which costs every dish, works out the same figures (labour too,
   where more than prices moved) and picks those that moved. Each side's moved dishes and figures have to be the same.
b. A ramp of 13 steps of one ingredient, from the percentages to the figures of every dish that can move, the others
   being as they were: against 13 single what-ifs, to all columns and to the rows of the dishes that move.
c. A thousand sets of prices of the catalogue of `recompute`, all of them new in each: food costs at 4 decimals, every
   digit the published one (settled by bound, denominator or exactly), and all figures of a dish settled; the same in
   plain floats, settled by nobody; and one C pass over all lines for each set, one thread, compiled here (it publishes
   nothing).
"""

import argparse
import gc
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from decimal import Decimal
from random import Random
from statistics import median

import numpy as np

from service.domain.breakdown import Breakdown
from service.domain.compiled_menu import CompiledMenu
from service.domain.kitchen import Kitchen, KitchenOnDay
from service.domain.menu_terms import MenuTerms
from service.domain.network import Network
from service.domain.scenario import NewVersion, PriceMove, Supposed, kitchen_under
from service.domain.sweep import CompiledSweep
from service.domain.sweep_many import sweep_many
from service.domain.unit_prices import UnitPrices
from service.use_cases.cost_rows import dish_rows
from service.use_cases.figures_under import moved_between, snapshot_under
from service.use_cases.position import Position
from service.use_cases.ramp_figures import ramp_columns
from service.use_cases.snapshot import Snapshot
from tests.benchmarks.c_pass import CPass
from tests.benchmarks.catalogue import SETTINGS, a_catalogue
from tests.benchmarks.decimal_menu import DecimalMenu
from tests.benchmarks.price_movements import START, a_moving_catalogue
from tests.benchmarks.results import Asked, Result, ratios

SCENARIOS, STEPS = 1_000, [Decimal(percent) for percent in range(-20, 45, 5)]


@dataclass
class Side:
    """What one side took in each round."""

    cpu: list[float] = field(default_factory=list)
    wall: list[float] = field(default_factory=list)

    def timed(self, work: Callable[[], object], times: int = 1) -> object:
        """The result of the work; its mean over so many times goes down."""
        gc.collect()
        cpu, wall = time.process_time(), time.perf_counter()
        for _ in range(times):
            result = work()
        self.cpu.append((time.process_time() - cpu) / times)
        self.wall.append((time.perf_counter() - wall) / times)
        return result


class Bench:
    """A kitchen of so many dishes, compiled, with all its rows made: as a worker has it that has answered once."""

    def __init__(self, dishes: int) -> None:
        self.chance = Random(5)
        kitchen = self._priced(a_moving_catalogue(dishes, 0))
        self.before = Snapshot.of(Position(1, "0" * 64, START), kitchen, None)
        dish_rows(self.before)
        self.rival = DecimalMenu(self.before.network, self.before.kitchen)
        catalogue = a_catalogue(dishes)
        compiled = CompiledSweep.of(catalogue.network)
        self.priced = CompiledMenu(compiled, MenuTerms.of(compiled, catalogue.dishes, SETTINGS), ())
        self.c_pass = CPass(self.priced)
        self.sides: dict[str, Side] = {}
        self.settled = 0

    def _priced(self, kitchen: Kitchen) -> Kitchen:
        """With menu prices, so that every dish has all its figures."""
        return replace(kitchen, dishes={
            code: tuple(replace(one, record=replace(one.record, menu_price=Decimal(self.chance.randint(12, 90)) / 2))
                        for one in history) for code, history in kitchen.dishes.items()})

    def side(self, name: str) -> Side:
        return self.sides.setdefault(name, Side())

    def dearer(self) -> list[Supposed]:
        percent = Decimal(self.chance.randint(100, 4000)) / 100
        return [PriceMove(percent, START, frozenset([f"good-{self.primal()}"]))]

    def primal(self) -> int:
        return self.chance.randrange(len(self.before.kitchen.breakdowns))

    def another_yield(self) -> list[Supposed]:
        code = sorted(self.before.kitchen.breakdowns)[self.primal()]
        plan: Breakdown = self.before.kitchen.breakdowns[code]
        first = replace(plan.outputs[0], expected_yield=Decimal(self.chance.randint(4000, 5900)) / 10_000)
        return [NewVersion("breakdown", code, replace(plan, outputs=(first, *plan.outputs[1:])), START)]

    def one(self, name: str, changes: list[Supposed]) -> None:
        """One what-if by both."""
        moved = self.side(f"{name}: what-if").timed(
            lambda: moved_between(self.before, snapshot_under(self.before, changes)), 5)
        network: Network = snapshot_under(self.before, changes).network
        costed = self.rival.prepared(network)
        only_prices = all(isinstance(change, PriceMove) for change in changes)
        theirs = self.side(f"{name}: recursive Decimal").timed(lambda: self.rival.moved(costed, only_prices))
        ours = {dish.code: tuple(dish.after[name] for name in self.rival.figures) for dish in moved}
        if ours != theirs:
            raise SystemExit(f"{name}: the two sides do not say the same")

    def ramp(self) -> None:
        good = frozenset([f"good-{self.primal()}"])
        moves = [[PriceMove(percent, START, good)] for percent in STEPS]
        before = self.before

        def at_once() -> object:
            return ramp_columns(before, [kitchen_priced(before, move) for move in moves])

        steps = self.side("b. ramp of 13 steps").timed(at_once, 3)
        singles = self.side("b. 13 single what-ifs: rows").timed(
            lambda: [moved_between(before, snapshot_under(before, move)) for move in moves])
        columns = self.side("b. 13 single what-ifs: columns").timed(
            lambda: [snapshot_under(before, move).columns() for move in moves])
        if [one.rows() for one in steps.whole()] != [one.rows() for one in columns] or len(singles) != len(STEPS):
            raise SystemExit("the ramp and single what-ifs do not say the same")

    def scenarios(self) -> None:
        """A thousand sets of prices in cents."""
        goods = self.priced.compiled.shape.prices
        drawn = np.random.default_rng(self.chance.randrange(2**32))
        per = np.full(goods, 100, dtype=np.int64)
        cents = [drawn.integers(50, 4_000, goods) for _ in range(SCENARIOS)]
        floats = [one / 100 for one in cents]

        def prices() -> list[UnitPrices]:
            return [UnitPrices.scaled(one, per) for one in cents]

        last = self.side("c. 1 000 sets: food costs, published digits").timed(
            lambda: [one.scaled for one in self.priced.food_costs_many(prices())][-1])
        self.settled = self.side("c. 1 000 sets: all figures, published digits").timed(
            lambda: sum(one.settled_exactly for one in self.priced.published_many(prices())))
        self.side("c. 1 000 sets: food costs in plain floats").timed(
            lambda: [np.rint(one.of_dishes() * 1e4) for one in sweep_many(self.priced.compiled, prices())][-1])
        plain = self.side("c. 1 000 C passes").timed(lambda: [self.c_pass.food_costs(one) for one in floats][-1].copy())
        if np.abs(plain * 1e4 - last).max() > 0.51:
            raise SystemExit("the C pass and the sweep do not cost the same")


def kitchen_priced(before: Snapshot, changes: list[Supposed]) -> KitchenOnDay:
    """The kitchen that day under changes of prices."""
    return kitchen_under(before.recorded, changes).on(START, (before.recorded, before.kitchen))


HELD = (("a. price: what-if", "a. price: recursive Decimal", "how many times faster (aim 50)"),
        ("a. yield: what-if", "a. yield: recursive Decimal", "how many times faster (aim 50)"),
        ("b. ramp of 13 steps", "b. 13 single what-ifs: columns", "how many times cheaper (aim 3)"),
        ("b. ramp of 13 steps", "b. 13 single what-ifs: rows", "how many times cheaper (aim 3)"),
        ("c. 1 000 C passes", "c. 1 000 sets: food costs, published digits", "times the C passes (aim at most 4)"),
        ("c. 1 000 C passes", "c. 1 000 sets: food costs in plain floats", "times the C passes"),
        ("c. 1 000 C passes", "c. 1 000 sets: all figures, published digits", "times the C passes"))


def report(bench: Bench, dishes: int) -> None:
    nodes = bench.before.network.nodes
    print(f"\n{dishes} dishes, {len(nodes)} nodes, {sum(len(node.edges) for node in nodes)} lines")
    print(f"{'':46}{'cpu ms':>10}{'wall ms':>10}")
    for name, side in bench.sides.items():
        print(f"{name:46}{median(side.cpu) * 1e3:10.2f}{median(side.wall) * 1e3:10.2f}")
    print(f"figures settled exactly in the last thousand sets: {bench.settled} of {SCENARIOS * 5 * dishes}")
    for base, other, said in HELD:
        ratios = [theirs / ours for ours, theirs in zip(bench.sides[base].cpu, bench.sides[other].cpu, strict=True)]
        print(f"{other:46}{median(ratios):8.1f} ({min(ratios):.1f}..{max(ratios):.1f})  {said}; held to {base[3:]}")


AIMS = ({"at_least": 50}, {"at_least": 50}, {"at_least": 3}, {"at_least": 3}, {"at_most": 4}, {}, {})
"""What each of HELD should be."""


def measured(dishes: int, rounds: int) -> Bench:
    """A kitchen that has been through all rounds."""
    bench = Bench(dishes)
    for number in range(rounds + 1):
        if number == 1:  # the first round finds what is found once, and does not count
            bench.sides.clear()
        bench.one("a. price", bench.dearer())
        bench.one("a. yield", bench.another_yield())
        bench.ramp()
        bench.scenarios()
    return bench


def results(asked: Asked) -> Iterator[Result]:
    """The ratios of HELD: how many times as long the second takes as the first."""
    dishes = asked.of(20, 10_000, 10_000)
    bench = measured(dishes, asked.rounds)
    for (base, other, _), aim in zip(HELD, AIMS, strict=True):
        yield Result(f"{other[3:]}, {dishes} dishes", base[3:], ratios(bench.sides[other].cpu, bench.sides[base].cpu),
                     **aim)


def main() -> None:
    parser = argparse.ArgumentParser(description="Ratios of what-ifs, ramps and many sets of prices.")
    parser.add_argument("dishes", nargs="?", type=int, default=10_000)
    parser.add_argument("--rounds", type=int, default=5)
    asked = parser.parse_args()
    report(measured(asked.dishes, asked.rounds), asked.dishes)


if __name__ == "__main__":
    main()
