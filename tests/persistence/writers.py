"""A writer to be run as a process of its own: `python -m tests.persistence.writers`.

It reads jobs from its standard input, a line each (`JOB DATABASE_URL [ROUNDS]`), prints a line for whatever was
acknowledged, so that a test can hold the ledger to it, and `done` after each job.
"""

import sys
from dataclasses import replace

from service.domain.history import Version
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.use_cases.ports import Entry
from tests.builders import a_price
from tests.persistence.writing import CHEF, record


def count_up(ledger: SqlLedger, rounds: int, blindly: bool) -> None:
    """Read the number in the supplier's note, add one, write it back. `blindly` reads before the lock is held."""
    for _ in range(rounds):
        stale = ledger.kitchen(ledger.head().revision)
        with ledger.write(CHEF) as work:
            kitchen = stale if blindly else work.kitchen()
            supplier = kitchen.suppliers["fenmoor"][-1].record
            counted = replace(supplier, note=str(int(supplier.note) + 1))
            mark = work.next_mark(Entry("recorded", "supplier", "fenmoor", {"note": counted.note}))
            work.add_version("supplier", "fenmoor", Version(counted, mark))
        print(mark.revision, counted.note, flush=True)


def write_until_killed(ledger: SqlLedger) -> None:
    """Two prices a revision, as fast as it goes; says each revision once it is acknowledged."""
    while True:
        print(record(ledger, a_price(), a_price("15.00")), flush=True)


def migrate_and_look(database_url: str) -> None:
    """What each start of the service does on a database that may not be there yet."""
    migrate(database_url)
    engines = open_engines(database_url, pool_size=1)
    print(SqlLedger(engines).head().revision, flush=True)
    engines.dispose()


def do(job: str, database_url: str, rounds: str = "0") -> None:
    """One job."""
    if job == "migrate":
        migrate_and_look(database_url)
        return
    engines = open_engines(database_url, pool_size=1)
    ledger = SqlLedger(engines)
    if job == "write":
        write_until_killed(ledger)
    count_up(ledger, int(rounds), blindly=job == "count-blindly")
    engines.dispose()


if __name__ == "__main__":
    print("ready", flush=True)
    for line in sys.stdin:
        do(*line.split())
        print("done", flush=True)
