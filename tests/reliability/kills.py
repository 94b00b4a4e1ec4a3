"""T22: kill -9 of a worker, of the master with all its workers, and of the whole database, amid writes over HTTP.

Four writers write without pause. A cycle is one kill, then waiting until the service is ready again and as many writes
as there are writers have been acknowledged. At the end the whole ledger is looked at: no acknowledged write lost,
none doubled, none half done. The worker killed is the one that serves longest. `KINDS` says how the kills are mixed;
that of the database is of postmaster and backends at once, on a server that syncs.

`kill -9` cannot show a skipped fsync on SQLite, since the operating system outlives the process: that is T23's.
"""

import random
import time
from collections.abc import Callable
from contextlib import ExitStack
from statistics import median

from service.persistence.migrating import migrate
from tests.reliability.durable_postgres import DurablePostgres, durable_postgres
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.served import Served, served
from tests.reliability.steady_writers import Crew, Writer, prepare
from tests.reliability.whole_ledger import look_at

WRITERS = 4
WORKER, MASTER, DATABASE = "worker", "master", "database"
KINDS = {"sqlite": (WORKER, WORKER, WORKER, MASTER, WORKER), "postgresql": (DATABASE, WORKER, DATABASE, MASTER, WORKER)}
MOST_BETWEEN = 0.05
"""Seconds at most, from the last cycle's end to the next kill."""


def kills(run: Run) -> Verdict:
    """Kill, again and again."""
    with ExitStack() as stack:
        database = stack.enter_context(durable_postgres()) if run.engine == "postgresql" else None
        url = database.create() if database else run.database_url
        if database:
            migrate(url)
        prepare(url)
        service = stack.enter_context(served(url, run.folder, run.sabotage))
        key = service.a_key("admin")
        crew = Crew([Writer(service.address, key, f"writer-{number}", run.seed) for number in range(WRITERS)])
        seconds = _cycles(run, service, crew, database)
        service.kill_all()
        look = look_at(url, crew.writers)
    cycles = sum(map(len, seconds.values()))
    figures: dict[str, object] = {
        "acknowledged": crew.acknowledged, "stored": look.stored, "revisions": look.revisions,
        "repeats": sum(writer.repeated for writer in crew.writers),
        "without answer": sum(writer.unanswered for writer in crew.writers)}
    figures |= {f"{kind} kills": f"{len(took)} (ready after {median(took):.2f} s, at most {max(took):.2f})"
                for kind, took in seconds.items() if took}
    return Verdict(cycles, tuple((crew.faults + look.faults)[:20]), figures)


def _cycles(run: Run, service: Served, crew: Crew, database: DurablePostgres | None) -> dict[str, list[float]]:
    chance = random.Random(run.seed)
    kill: dict[str, Callable[[], float]] = {
        WORKER: service.kill_a_worker, MASTER: lambda: _kill_master(service),
        DATABASE: lambda: _kill_database(service, database)}
    kinds = KINDS["postgresql" if database else "sqlite"]
    seconds: dict[str, list[float]] = {kind: [] for kind in (WORKER, MASTER, DATABASE)}
    crew.begin()
    try:
        crew.wait_for_more()
        for number in range(run.cases):
            if not run.in_time or crew.faults:
                break
            time.sleep(chance.uniform(0, MOST_BETWEEN))
            kind = kinds[number % len(kinds)]
            seconds[kind].append(kill[kind]())
            crew.wait_for_more()
    finally:
        crew.end()
    return seconds


def _kill_master(service: Served) -> float:
    service.kill_all()
    return service.start()


def _kill_database(service: Served, database: DurablePostgres | None) -> float:
    assert database is not None
    database.kill()
    begun = time.monotonic()
    database.start()
    service.wait_until_ready()
    return time.monotonic() - begun


PROGRAMME = Programme(
    "kills", "T22", "no acknowledged write is lost by kill -9, none half done, none doubled", "kills", 60, 500, kills,
    sabotages=("half_commit", "skipped_fsync"))
