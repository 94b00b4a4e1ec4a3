"""What one of each thing costs: the figures that the capacity plan of DEVELOPERS.md multiplies.

    python -m tests.benchmarks.unit_costs [--dishes 150 1000 10000] [--revisions 2000] [--rounds 3]

Processor milliseconds of the service for each kind of request and for a worker's start, and MB that a worker holds, for
menus of several sizes; on PostgreSQL also what the database's own processes take. Bytes that a database grows by for a
price, a version of a recipe and of a dish, each recorded alone in a revision, for a price among a thousand in one, and
for a day of sales.
Connections that one worker holds to PostgreSQL when all its threads are busy.
"""

import argparse
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import psycopg

from service import operating
from service.domain.history import Mark
from service.domain.sales import SalesLine
from service.settings import Settings
from service.use_cases.record_sales import record_sales
from service.use_cases.sales_files import SentDay
from tests.benchmarks.kitchens import ASKER, START, bytes_of_kitchen, filled
from tests.benchmarks.mixed_load import at_once
from tests.benchmarks.price_movements import Draft
from tests.benchmarks.results import PROCESSOR, SIZE, Asked, Result
from tests.benchmarks.scale import (
    DISH,
    ENGINES,
    LIST,
    MANY,
    MENDS,
    OWN,
    PAGE,
    POLL,
    POST,
    WHAT_IF,
    a_database,
    over_http,
    size_of,
)
from tests.benchmarks.scale import START as STARTED
from tests.benchmarks.serving import free_port, processor_seconds, service
from tests.persistence.writing import record
from tests.postgres import running_server

THREADS = 16
AT_ONCE = 1_000
MENU = 150
"""Dishes of the kitchen in which bytes are counted."""


def of_requests(dishes: int, rounds: int) -> Iterator[Result]:
    """What a worker takes for each request to a menu of so many dishes, on the embedded database."""
    with a_database(ENGINES[0]) as url:
        took = over_http(url, filled(url, dishes), rounds)
    for name in (STARTED, POST, DISH, PAGE, LIST, WHAT_IF, MENDS, POLL):
        yield Result(f"{dishes} dishes: {name}", "", tuple(one * 1000 for one in took.cpu[name]), "ms", PROCESSOR)
    for name, held in ((MANY, "a worker that has answered all that"), (OWN, OWN)):
        yield Result(f"{dishes} dishes: {held}", "", tuple(took.memory[name]), "MB", SIZE)


def of_bytes(engine: str, revisions: int) -> Iterator[Result]:
    """What a database grows by."""
    with a_database(engine) as url:
        filled(url, MENU)
        draft = Draft(MENU)
        goods = (("ingredient", draft.goods),)
        with operating.opened_ledger(Settings(database_url=url)) as ledger:
            for name, count, times, work in (
                    ("a price, in a revision of its own", revisions, revisions, lambda number: record(
                        ledger, draft.price(draft.goods[number % MENU], START, Mark(0, 0)))),
                    (f"a price, of {AT_ONCE} in one revision", AT_ONCE, 1, lambda _: record(ledger, *(
                        draft.price(draft.goods[number % MENU], START, Mark(0, 0)) for number in range(AT_ONCE)))),
                    ("a version of a recipe with 8 lines, in a revision of its own", revisions, revisions,
                     lambda number: record(ledger, draft.recipe(draft.plain[number % len(draft.plain)], goods))),
                    ("a version of a dish with 8 lines, in a revision of its own", revisions, revisions,
                     lambda number: record(ledger, replace(
                         draft.dish(f"dish-{number % MENU}"), menu_price=Decimal(number % 90 + 1)))),
                    (f"the sales of a day, {MENU} lines", days := max(1, revisions // 20), days,
                     lambda number: record_sales(ledger, [_a_day(number)], ASKER))):
                before = size_of(url)
                for number in range(times):
                    work(number)
                yield Result(f"{engine}: {name}", "", ((size_of(url) - before) * 1e6 / count,), "bytes", SIZE)


def of_kept_prices(engine: str, prices: int) -> Iterator[Result]:
    """What a worker holds for each price that was ever recorded."""
    with a_database(engine) as url:
        filled(url, MENU)
        draft, before = Draft(MENU), bytes_of_kitchen(url)
        with operating.opened_ledger(Settings(database_url=url)) as ledger:
            for delivery in range(prices // AT_ONCE):
                record(ledger, *(replace(draft.price(draft.goods[number % MENU], START, Mark(0, 0)),
                                         reference=f"delivery {delivery}") for number in range(AT_ONCE)))
        held = bytes_of_kitchen(url) - before
        yield Result(f"{engine}: a price, in the memory of every worker", "", (held / prices,), "bytes", SIZE)


def _a_day(number: int) -> SentDay:
    """What was sold of every dish on a day."""
    return SentDay(START + timedelta(days=number), tuple(
        SalesLine(str(1_000 + dish), Decimal(number % 40 + dish), Decimal(number * 7 + dish) / 2)
        for dish in range(MENU)), {})


def of_postgresql(dishes: int, seconds: float) -> Iterator[Result]:
    """What the database's processes take for a read, and how many connections a busy worker holds."""
    with ExitStack() as stack:
        server = stack.enter_context(running_server())
        kitchen = filled(url := server.create(), dishes)
        postmaster = int((Path(server.socket_folder) / "data" / "postmaster.pid").read_text().splitlines()[0])
        worker = stack.enter_context(service(url, free_port(), 1, THREADS))
        asked = argparse.Namespace(readers=2 * THREADS, dishes=dishes)
        at_once(worker, kitchen, asked, 0, seconds)
        before = processor_seconds(postmaster)
        alone, _ = at_once(worker, kitchen, asked, 0, seconds)
        reading = (processor_seconds(postmaster) - before) / sum(kind["count"] for kind in alone.values())
        yield Result(f"PostgreSQL's own processes, a read of {dishes} dishes", "", (reading * 1e3,), "ms")
        before = processor_seconds(postmaster)
        found, _ = at_once(worker, kitchen, asked, 4, seconds)
        written = sum(found[kind]["count"] for kind in ("price posted", "dish put"))
        others = sum(kind["count"] for kind in found.values()) - written
        yield Result(f"PostgreSQL's own processes, a write of {dishes} dishes", "", (
            (processor_seconds(postmaster) - before - reading * others) / max(1, written) * 1e3,), "ms")
        with psycopg.connect(url) as connection:
            held = connection.execute("SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() "
                                      "AND pid <> pg_backend_pid()").fetchone()
        yield Result(f"connections that a worker of {THREADS} threads holds, all busy", "", (float(held[0]),), "", SIZE)


def results(asked: Asked) -> Iterator[Result]:
    """All of them; menus of 150 and 1 000 dishes in the quick form, of 10 000 too in the full one."""
    for dishes in asked.of((20,), (150, 1_000), (150, 1_000, 10_000)):
        yield from of_requests(dishes, asked.rounds)
    for engine in ENGINES:
        yield from of_bytes(engine, asked.of(4, 500, 2_000))
        yield from of_kept_prices(engine, asked.of(1, 10, 50) * AT_ONCE)
    yield from of_postgresql(asked.of(20, 150, 150), asked.of(0.5, 5, 10))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--dishes", type=int, nargs="+", default=[150, 1_000, 10_000])
    parser.add_argument("--revisions", type=int, default=2_000)
    parser.add_argument("--rounds", type=int, default=3)
    asked = parser.parse_args()
    parts = [*(of_requests(dishes, asked.rounds) for dishes in asked.dishes),
             *(of_bytes(engine, asked.revisions) for engine in ENGINES),
             *(of_kept_prices(engine, 50 * AT_ONCE) for engine in ENGINES), of_postgresql(MENU, 10)]
    for part in parts:
        for result in part:
            print("  ".join(result.cells("unit_costs")[1:]), flush=True)


if __name__ == "__main__":
    main()
