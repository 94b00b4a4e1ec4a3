"""What the database's own guards cost a single price: the same writes on PostgreSQL with them, and without.

    python -m tests.benchmarks.guards [--prices 2000] [--turns 40]

Two ledgers of one server, which runs without fsync, so that a disk hides nothing. From the second one the guards of
migration 0013 and later are taken away: triggers, the reference of `promised`, and the index that it needs. Prices are
recorded by the use case, a revision each, in turns so short that what else the machine does meets both sides; which
begins changes from turn to turn. Processor time is that of this process and of the server's together.
"""

import argparse
import time
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from decimal import Decimal
from statistics import median, quantiles

import psycopg

from service import operating
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.settings import Settings
from service.use_cases.record_price import PriceAsked, record_price
from tests.benchmarks.kitchens import ASKER, filled
from tests.benchmarks.results import CLOCK, PROCESSOR, Asked, Result
from tests.benchmarks.serving import processor_seconds
from tests.persistence.guards import guards_of
from tests.postgres import running_server

GUARDED, BARE = "with guards", "without"
DISHES = 50
Times = dict[str, list[tuple[float, float]]]
"""By side: seconds of the clock and of processors a price, turn by turn."""


def unguard(url: str) -> None:
    """Take away what keeps a broken ledger from being committed since 0013."""
    engines = open_engines(url)
    with engines.write() as connection:
        for name, table in guards_of(connection, is_sqlite=False):
            if name.startswith("guard_"):
                connection.exec_driver_sql(f"DROP TRIGGER {name} ON {table}")
        connection.exec_driver_sql("ALTER TABLE ledger_head DROP CONSTRAINT fk_ledger_head_promised")
        connection.exec_driver_sql("DROP INDEX uq_ledger_head_revision")
    engines.dispose()


@contextmanager
def sides() -> Iterator[tuple[Mapping[str, SqlLedger], int, str]]:
    """A ledger a side, the server's process, and an ingredient."""
    with ExitStack() as stack:
        server = stack.enter_context(running_server())
        kitchen = filled(whole := server.create(), DISHES)
        bare = server.create(whole.split("@/")[1].split("?")[0])
        unguard(bare)
        ledgers = {name: stack.enter_context(operating.opened_ledger(Settings(database_url=url)))
                   for name, url in ((GUARDED, whole), (BARE, bare))}
        postmaster = (server.socket_folder / "data" / "postmaster.pid").read_text().splitlines()[0]
        with psycopg.connect(server.url("postgres"), autocommit=True) as connection:
            connection.execute("CHECKPOINT")
        yield ledgers, int(postmaster), kitchen.good


def spent(ledgers: Mapping[str, SqlLedger], postmaster: int, good: str, prices: int, turns: int) -> Times:
    """Record so many prices a side, in so many turns."""
    found: Times = {name: [] for name in ledgers}
    each = max(1, prices // turns)
    for turn in range(turns):
        for name in sorted(ledgers, reverse=bool(turn % 2)):
            begun, own, clock = processor_seconds(postmaster), time.process_time(), time.monotonic()
            for number in range(each):
                asked = PriceAsked("fenmoor", Decimal(1_000 + turn * each + number) / 100, Decimal(1), "kg")
                record_price(ledgers[name], good, asked, ASKER)
            clock, own = time.monotonic() - clock, time.process_time() - own
            found[name].append((clock / each, (own + processor_seconds(postmaster) - begun) / each))
    return found


def over_bare(times: Times, which: int) -> list[float]:
    """The guarded side over the other, turn by turn: of the clock (0), or of processors (1)."""
    return [mine[which] / other[which] for mine, other in zip(times[GUARDED], times[BARE], strict=True)]


def results(asked: Asked) -> Iterator[Result]:
    """What guards add to a price; each value is the median of a round's turns."""
    with sides() as (ledgers, postmaster, good):
        spent(ledgers, postmaster, good, asked.of(2, 50, 50), 1)
        rounds = [spent(ledgers, postmaster, good, asked.of(4, 400, 2_000), asked.of(2, 20, 40))
                  for _ in range(asked.rounds)]
    for which, by in enumerate((CLOCK, PROCESSOR)):
        yield Result("a price on PostgreSQL, guarded", "the same without the guards",
                     tuple(median(over_bare(times, which)) for times in rounds), by=by)


def main(asked: argparse.Namespace) -> None:
    with sides() as (ledgers, postmaster, good):
        spent(ledgers, postmaster, good, 50, 1)
        times = spent(ledgers, postmaster, good, asked.prices, asked.turns)
    for which, by in enumerate((CLOCK, PROCESSOR)):
        low, middle, high = quantiles(over_bare(times, which), n=4)
        told = ", ".join(f"{median(one[which] for one in each) * 1e6:.0f} us {name}" for name, each in times.items())
        print(f"by {by:10} {told}: {middle:.3f} ({low:.3f}..{high:.3f})")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--prices", type=int, default=2_000)
    parser.add_argument("--turns", type=int, default=40)
    main(parser.parse_args())
