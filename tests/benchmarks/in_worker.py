"""What a worker does with a menu before it can answer, step by step, in a process that does nothing else.

    python -m tests.benchmarks.in_worker URL TIMES

Prints one JSON object a step: processor seconds, seconds, MB held after it. With TIMES, all dishes are recomputed so
often, at prices that are all new, beside one pass in C over the same lines.
"""

import gc
import json
import sys
import time
from collections.abc import Callable
from typing import TypeVar

import numpy as np

from service import operating
from service.domain.compile import compile_network
from service.domain.compiled_menu import CompiledMenu
from service.domain.published_menu import food_costs
from service.domain.sweep import sweep
from service.domain.unit_prices import UnitPrices
from service.interpreter import suit_the_service
from service.settings import Settings
from service.use_cases.cost_rows import dish_row, dish_rows
from service.use_cases.position import position_asked
from service.use_cases.read_allergens import rolled_up
from service.use_cases.snapshots import Snapshots
from tests.benchmarks.c_pass import CPass
from tests.benchmarks.machine import resident_mb

T = TypeVar("T")
REPEATS = 10


def step(name: str, work: Callable[[], T], times: int = 1) -> T:
    """Do the work, and say what it took."""
    cpu, clock = time.process_time(), time.monotonic()
    for _ in range(times):
        found = work()
    told = {"name": name, "cpu": (time.process_time() - cpu) / times, "clock": (time.monotonic() - clock) / times,
            "memory": resident_mb()}
    print(json.dumps(told), flush=True)
    return found


def recompute(menu: CompiledMenu, prices: int, rounds: int) -> None:
    """All prices anew in each round, by the sweep and by the pass in C."""
    drawn, per = np.random.default_rng(7), np.full(prices, 100, dtype=np.int64)
    c_pass = CPass(menu)
    gc.collect()
    for _ in range(rounds):
        cents = [drawn.integers(50, 4_000, prices) for _ in range(REPEATS)]
        floats, exact = (iter([one / 100 for one in cents]),
                         iter([UnitPrices.scaled(one, per) for one in cents + cents]))
        step("one C pass", lambda floats=floats: c_pass.food_costs(next(floats)), REPEATS)
        step("all prices anew: food costs, published digits",
             lambda exact=exact: food_costs(sweep(menu.compiled, next(exact))).scaled, REPEATS)
        step("all prices anew: all figures", lambda exact=exact: menu.published_of(menu.swept_at(next(exact))), REPEATS)


def main() -> None:
    url, rounds = sys.argv[1], int(sys.argv[2])
    suit_the_service()
    with operating.opened_ledger(Settings(database_url=url)) as ledger:
        position = position_asked(ledger, ledger.head(), ledger.today(), None, None, costs_only=False)
        recorded = step("read the kitchen", lambda: ledger.kitchen(position.revision))
        kitchen = step("the kitchen on the day", lambda: recorded.on(position.day))
        step("compile the network", lambda: compile_network(kitchen))
        snapshot = Snapshots(ledger).at(position)
        step("gather the allergens", lambda: rolled_up(snapshot))
        step("one dish", lambda: dish_row(snapshot, next(iter(kitchen.dishes))))
        menu = step("prepare the sweep", snapshot.menu.get)
        step("the figures of all dishes", snapshot.columns)
        step("the rows of all dishes", lambda: dish_rows(snapshot))
        if rounds:
            recompute(menu, menu.compiled.shape.prices, rounds)


if __name__ == "__main__":
    main()
