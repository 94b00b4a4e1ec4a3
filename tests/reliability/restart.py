"""From the start to ready after a bad end: on SQLite with a large file and a log that was not merged, on PostgreSQL
right after the database itself was killed and started; and the first figure is the one that was recorded last.

A case is one start. On SQLite `SEAMCOST_RESTART_MEGABYTES` (100, unless set) of other rows are in the file; a price is
recorded and the service killed at once, so that it stands in the log alone, and a writer that ends as if it were killed
leaves 100 MB in the log behind it. On PostgreSQL the database is killed under the service right after the price and
started again, and another service at once. Told are the longest and the middle time from the start of the process until
/health/ready says pass.
"""

import os
import signal
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from decimal import Decimal

import requests

from service.persistence.migrating import migrate
from tests.docker.proxy import free_ports
from tests.reliability.durable_postgres import durable_postgres
from tests.reliability.graceful_stop import a_kitchen
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.serving import NeverReady, Service, running

MEGABYTES_OF_LOG = 100
MOST_SECONDS = 60
"""Beyond which it is no figure but a fault."""
FILL = """
import os, sqlite3, sys
path, first, megabytes, merged = sys.argv[1], int(sys.argv[2]), int(sys.argv[3]), sys.argv[4] == "merged"
connection = sqlite3.connect(path, isolation_level=None)
connection.execute("PRAGMA wal_autocheckpoint = 0")
connection.execute("BEGIN IMMEDIATE")
connection.execute("CREATE TABLE IF NOT EXISTS ballast (number INTEGER PRIMARY KEY, filling BLOB)")
for number in range(first, first + megabytes):
    connection.execute("INSERT OR REPLACE INTO ballast VALUES (?, ?)", (number, os.urandom(1_000_000)))
connection.execute("COMMIT")
if merged:
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
os._exit(0)  # nothing is closed: the log stays as it is
"""


def run(told: Run) -> Verdict:
    """Start as often as there are cases; how long it took, and whether the first answer was right."""
    if told.engine == "sqlite":
        return _started_again(told, told.database_url, _left_in_the_log(told))
    with durable_postgres() as server:
        url = server.create()
        migrate(url)

        def killed_and_started(_service: Service) -> None:
            server.kill()
            server.start()

        return _started_again(told, url, killed_and_started)


def _started_again(told: Run, database_url: str, spoil: Callable[[Service], None]) -> Verdict:
    key = a_kitchen(database_url)
    service = Service(free_ports(1)[0], database_url, told.folder, sabotage=told.sabotage, fresh=True)
    faults: list[str] = []
    seconds: list[float] = []
    for case in range(told.cases):
        if not told.in_time or faults:
            break
        amount = f"{case + 1}.50"
        with running(service):
            _record(service, key, amount)
            spoil(service)
        begun = time.monotonic()
        try:
            service.start()
            service.ready(MOST_SECONDS)
            seconds.append(time.monotonic() - begun)
            if (first := _price(service, key)) != Decimal(amount):
                faults.append(f"The first answer said {first}, and {amount} was recorded last.")
            service.tell(signal.SIGTERM)
            service.ended()
        except NeverReady as never:
            faults.append(str(never))
        finally:
            service.kill()
    return Verdict(len(seconds), tuple(faults), {
        "longest": f"{max(seconds, default=0):.2f} s", "middle": f"{statistics.median(seconds or [0]):.2f} s"})


def _left_in_the_log(told: Run) -> Callable[[Service], None]:
    path = told.database_url.removeprefix("sqlite:///")

    def fill(first: int, megabytes: int, how: str) -> None:
        subprocess.run([sys.executable, "-c", FILL, path, str(first), str(megabytes), how], check=True)

    fill(MEGABYTES_OF_LOG, int(os.environ.get("SEAMCOST_RESTART_MEGABYTES", "100")), "merged")

    def killed_with_a_log(service: Service) -> None:
        service.kill()
        fill(0, MEGABYTES_OF_LOG, "left")

    return killed_with_a_log


def _record(service: Service, key: str, amount: str) -> None:
    answer = requests.post(f"{service.url}/v1/ingredients/salt/prices", timeout=60, json={
        "supplier": "brine-house", "amount": amount, "pack_quantity": "1", "pack_unit": "kg",
        "effective_from": "2026-03-02"}, headers={"Authorization": f"Bearer {key}"})
    assert answer.status_code == 201, answer.text


def _price(service: Service, key: str) -> Decimal | None:
    """What the dish of a kilogram costs; None, where that is not known."""
    row = requests.get(f"{service.url}/v1/dish-costs/salted", timeout=60,
                       headers={"Authorization": f"Bearer {key}"}).json()
    return None if row["food_cost"] is None else Decimal(row["food_cost"])


PROGRAMME = Programme(
    name="restart", row="T27", promise="Ready within seconds after a bad end, and the first answer is right.",
    unit="starts", short=1, long=50, run=run,
    sabotages=("left_log_thrown_away", "left_log_believed", "skipped_fsync"))
