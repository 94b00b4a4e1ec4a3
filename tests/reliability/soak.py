"""The soak (T35): a mixed load for long, with faults at random, and what the workers hold after it.

Tills poll, a list is read, prices are posted and dishes put at an ordinary pace. From time to time, by the seed, one of
these is done to the service: its youngest worker is killed (an older one is to grow old), a connection is opened and
left half-sent, a body is cut off in the middle, a database's sessions are ended (PostgreSQL), a foreign file is sent. A
case is a second.

Every price that is posted stays in a worker's memory, as it stays in the ledger; what that takes is measured by reading
the ledger anew before and after, and is no growth of the worker's own.

What is wrong is: an answer of 5xx other than 503; more of those than of others; a price that was acknowledged and is
not in the ledger; a chain that does not hold; descriptors beyond what a worker's pools explain; a log longer than so
much a fault; a write-ahead log of SQLite's longer than readers explain; and, once a worker has lived for two hours and
its first is left out, descriptors that grow, or memory (by more than 1 MB an hour beside the ledger); a run of three
hours in which no worker lived so long has judged nothing, and is wrong too. A shorter run tells the slope and does not
judge it: a worker fills its caches first.

With SEAMCOST_SOAK_PACE=4 in the environment everybody is four times as fast, and an hour of that load is told as an
hour: what grows with what is asked shows in a quarter of the time; what grows with time does not.
"""

import json
import math
import os
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, field
from decimal import Decimal
from random import Random
from statistics import linear_regression, median

import psycopg
import requests

from service import operating
from service.settings import Settings
from tests.benchmarks.kitchens import bytes_of_kitchen, filled
from tests.benchmarks.machine import descriptors_of, memory_of
from tests.benchmarks.mixed_load import FINE, ended, readers, started
from tests.integrations.price_lists.hostile.hostile_workbooks import sheet_of_zeros_that_lies
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.served import Served, served

PACE = float(os.environ.get("SEAMCOST_SOAK_PACE", "1"))
DISHES, TILLS, PAUSE = 200, 12, 0.5 / PACE
SAMPLE_SECONDS, FAULT_SECONDS = 2.0, 8.0 / PACE
LOG_BYTES, LOG_BYTES_A_FAULT = 20_000, 8_000
"""A fault may be told with its traceback; nothing is written for a request."""
MOST_MB_AN_HOUR, WARM_SECONDS, BYTES_PER_MB = 1.0, 3600.0, 2**20
JUDGED_FROM = 3 * WARM_SECONDS
"""A run so long has had time for a worker whose memory can be judged."""
MOST_WRITE_AHEAD_LOG = 64_000_000
"""SQLite starts its log anew at some 4 MB (1 000 pages), unless somebody reads all the time from before."""
MOST_REFUSED, FEW_REFUSED = 0.05, 10
"""The share of a crowd's requests that may be refused for now, or lost, and so many more where it asked little: each
fault done to the service costs some."""
MOST_MORE_DESCRIPTORS, MOST_DESCRIPTORS = 12, 200
"""In its first hour a worker fills its pools: 8 + 16 + 16 connections, on SQLite with three files each, beside some
dozens of clients. After that clients come and go; what leaks grows beyond any number."""


Acknowledged = tuple[str, Decimal]
"""A price by its id and its amount."""


@dataclass(frozen=True)
class Sample:
    """What a worker held at a moment, in seconds of the load."""

    at: float
    megabytes: float
    descriptors: int


@dataclass
class Soaked:
    """What was seen: samples by worker, what was done to the service, what was acknowledged, what was wrong."""

    service: Served
    key: str
    samples: dict[int, list[Sample]] = field(default_factory=dict)
    done: dict[str, int] = field(default_factory=dict)
    prices: list[Acknowledged] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    refused: dict[str, str] = field(default_factory=dict)
    unanswered: int = 0
    write_ahead_log: int = 0
    ledger_growth: float = 0.0
    """MB an hour by which the kitchen grew that every worker holds."""

    @property
    def port(self) -> int:
        return int(self.service.address.rpartition(":")[2])

    def ask(self, method: str, path: str, data: str | bytes = b"", content_type: str = "application/json"
            ) -> requests.Response:
        """Ask on a connection of its own."""
        return requests.request(method, self.service.address + path, data=data, timeout=60, headers={
            "Authorization": f"Bearer {self.key}", "Content-Type": content_type})

    def look(self) -> None:
        """Take a sample of every worker that is there, and of SQLite's log."""
        log = self.service.settings.database_url.removeprefix("sqlite:///") + "-wal"
        self.write_ahead_log = max(self.write_ahead_log, os.path.getsize(log) if os.path.exists(log) else 0)
        for pid in self.service.worker_processes():
            try:
                sample = Sample(time.monotonic() * PACE, memory_of(pid).resident, descriptors_of(pid))
            except OSError:
                continue  # it was just killed
            self.samples.setdefault(pid, []).append(sample)


def run(run: Run) -> Verdict:
    """Load for as many seconds as there are cases, or until the time is up."""
    filled(run.database_url, DISHES)
    before = bytes_of_kitchen(run.database_url)
    with served(run.database_url, run.folder, run.sabotage) as service:
        soaked = Soaked(service, service.a_key("admin"))
        soaked.ask("GET", "/v1/dish-costs/dish-0")
        began = time.monotonic()
        until = min(began + run.cases / PACE, max(run.until, began + 1))
        load = _load(soaked, max(1.0, until - time.monotonic()))
        poster = threading.Thread(target=_post_prices, args=(soaked, until))
        poster.start()
        _watch(soaked, run, until)
        poster.join()
        for process in load:
            for kind, found in ended(process).items():
                soaked.faults += wrong_statuses(kind, found["statuses"]) + outages(kind, found["statuses"])
                soaked.refused[kind] = "{} of {}".format(*refused_of(found["statuses"]))
        soaked.look()
    _hold_to_ledger(soaked, run)
    soaked.faults += log_faults((run.folder / "log").stat().st_size, sum(soaked.done.values()))
    if soaked.write_ahead_log > MOST_WRITE_AHEAD_LOG:
        soaked.faults.append(f"the write-ahead log had {soaked.write_ahead_log} bytes: at most {MOST_WRITE_AHEAD_LOG}")
    seconds = (time.monotonic() - began) * PACE
    soaked.ledger_growth = (bytes_of_kitchen(run.database_url) - before) / BYTES_PER_MB * 3600 / seconds
    soaked.faults += all_workers_faults(soaked.samples, seconds, soaked.ledger_growth)
    return Verdict(int(seconds), tuple(soaked.faults), _figures(soaked, run))


def _load(soaked: Soaked, seconds: float) -> "list[subprocess.Popen[bytes]]":
    plan = {"port": soaked.port, "key": soaked.key, "seconds": seconds}
    return [started("crowd", plan | {"readers": [one | {"pause": PAUSE} for one in readers(TILLS, DISHES)]}),
            started("writing_crowd", plan | {
                "writers": 2, "pause": PAUSE, "goods": [f"good-{number}" for number in range(1, DISHES)],
                "dishes": [f"dish-{number}" for number in range(DISHES)]})]


def _watch(soaked: Soaked, run: Run, until: float) -> None:
    """Sample, and do something to the service now and then."""
    chance, pause = Random(run.seed), min(FAULT_SECONDS, run.cases / PACE / 4)
    kinds = [_kill_a_worker, _half_a_request, _half_a_body, _foreign_file] + ([_end_sessions] if run.server else [])
    next_fault = time.monotonic()
    while time.monotonic() < until:
        soaked.look()
        if time.monotonic() >= next_fault:
            kind = chance.choice(kinds)
            kind(soaked, run, chance)
            name = kind.__name__.strip("_").replace("_", " ")
            soaked.done[name] = soaked.done.get(name, 0) + 1
            next_fault = time.monotonic() + chance.uniform(0.5, 1.5) * pause
        time.sleep(max(0.0, min(SAMPLE_SECONDS, pause, until - time.monotonic())))


def _kill_a_worker(soaked: Soaked, _run: Run, _chance: Random) -> None:
    """The youngest: else none would ever live long enough to be judged."""
    os.kill(youngest(soaked.service.worker_processes(), soaked.samples), signal.SIGKILL)


def youngest(pids: Sequence[int], samples: Mapping[int, Sequence[Sample]]) -> int:
    """The worker that was seen last for the first time, or not yet."""
    return max(pids, key=lambda pid: samples[pid][0].at if pid in samples else math.inf)


def _half_a_request(soaked: Soaked, _run: Run, _chance: Random) -> None:
    connection = socket.create_connection(("127.0.0.1", soaked.port), timeout=5)
    connection.sendall(b"GET /v1/dish-costs HTTP/1.1\r\nHost: x\r\n")
    threading.Timer(3, connection.close).start()


def _half_a_body(soaked: Soaked, _run: Run, _chance: Random) -> None:
    with socket.create_connection(("127.0.0.1", soaked.port), timeout=5) as one:
        one.sendall(f"PUT /v1/dishes/dish-0 HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {soaked.key}\r\n"
                    "Content-Type: application/json\r\nContent-Length: 5000\r\n\r\n{".encode())


def _end_sessions(_soaked: Soaked, run: Run, _chance: Random) -> None:
    with psycopg.connect(run.database_url, autocommit=True) as connection:
        connection.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                           "WHERE datname = current_database() AND pid <> pg_backend_pid()")


def _foreign_file(soaked: Soaked, _run: Run, _chance: Random) -> None:
    try:
        answer = soaked.ask("POST", "/v1/price-proposals?supplier=fenmoor", data=sheet_of_zeros_that_lies(),
                            content_type="application/octet-stream")
        soaked.faults += wrong_statuses("foreign file", {str(answer.status_code): 1}, fine=("413", "422", "503"))
    except requests.RequestException:
        soaked.unanswered += 1


def _post_prices(soaked: Soaked, until: float) -> None:
    """Post prices of one good after another, and keep the names of those that were acknowledged."""
    turn = 0
    while turn == 0 or time.monotonic() < until:
        good, amount, turn = f"good-{turn % DISHES}", f"{turn % 4_000 / 100 + 1:.2f}", turn + 1
        try:
            answer = soaked.ask("POST", f"/v1/ingredients/{good}/prices", data=json.dumps({
                "supplier": "fenmoor", "amount": amount, "pack_quantity": "1", "pack_unit": "kg"}))
            if answer.status_code == 201:
                soaked.prices.append((answer.json()["id"], Decimal(amount)))
            else:
                soaked.faults += wrong_statuses("price posted", {str(answer.status_code): 1})
        except requests.RequestException:
            soaked.unanswered += 1
        time.sleep(PAUSE)


def _hold_to_ledger(soaked: Soaked, run: Run) -> None:
    """Every price that was acknowledged is in the ledger, and the chain holds."""
    settings = Settings(database_url=run.database_url)
    with operating.opened_ledger(settings) as ledger:
        there = {(price.id, price.amount) for of_good in ledger.kitchen(ledger.head().revision).prices.values()
                 for price in of_good}
    soaked.faults += lost_prices(soaked.prices, there)
    soaked.faults += operating.verify(settings, {})


def lost_prices(acknowledged: Sequence[Acknowledged], there: Set[Acknowledged]) -> list[str]:
    """Prices that were acknowledged and are not among those of the ledger: by id and amount, since the id of one that
    was never stored is given to the next."""
    return [f"the price {price} of {amount} was acknowledged and is not in the ledger"
            for price, amount in acknowledged if (price, amount) not in there]


def wrong_statuses(kind: str, statuses: "dict[str, int]", fine: Sequence[str] = (*FINE, "503", "lost")) -> list[str]:
    """What should not have been answered. A connection that was lost in an answer is the work of a fault of ours."""
    return [f"{kind}: {count} answers of {status}" for status, count in statuses.items() if status not in fine]


def outages(kind: str, statuses: "dict[str, int]") -> list[str]:
    """Whether more was refused for now than the faults that are done to the service explain."""
    refused, all_asked = refused_of(statuses)
    too_many = refused > FEW_REFUSED + MOST_REFUSED * all_asked
    return [f"{kind}: {refused} of {all_asked} were refused or lost"] if too_many else []


def refused_of(statuses: Mapping[str, int]) -> tuple[int, int]:
    """How many were refused for now, or lost, of how many."""
    return statuses.get("503", 0) + statuses.get("lost", 0), sum(statuses.values())


def log_faults(size: int, faults: int) -> list[str]:
    """Whether the log is longer than what was done to the service explains."""
    most = LOG_BYTES + LOG_BYTES_A_FAULT * faults
    return [f"the log has {size} bytes after {faults} faults: at most {most}"] if size > most else []


def all_workers_faults(samples: Mapping[int, Sequence[Sample]], seconds: float, ledger_growth: float) -> list[str]:
    """What is wrong with any worker; and whether none of a long run lived long enough for that to be told."""
    found = [fault for pid, of_one in samples.items() for fault in worker_faults(pid, of_one, ledger_growth)]
    longest = max(one[-1].at - one[0].at for one in samples.values())
    if seconds >= JUDGED_FROM and longest < 2 * WARM_SECONDS:
        found.append(f"no worker lived for {2 * WARM_SECONDS:.0f} s, {longest:.0f} at most: nothing tells whether one "
                     "grows")
    return found


def worker_faults(pid: int, samples: Sequence[Sample], ledger_growth: float) -> list[str]:
    """Whether a worker's descriptors grow, or its memory after an hour by more than the ledger's MB an hour."""
    most = max(one.descriptors for one in samples)
    found = [f"worker {pid}: {most} descriptors"] if most > MOST_DESCRIPTORS else []
    late = [one for one in samples if one.at >= samples[0].at + WARM_SECONDS]
    if len(late) < 4 or late[-1].at - late[0].at < WARM_SECONDS:
        return found
    quarter = len(late) // 4
    first, last = (median(one.descriptors for one in part) for part in (late[:quarter], late[-quarter:]))
    if last > first + MOST_MORE_DESCRIPTORS:
        found.append(f"worker {pid}: {first:g} descriptors after its first hour, {last:g} at its end")
    if slope(late) > ledger_growth + MOST_MB_AN_HOUR:
        found.append(f"worker {pid}: {slope(late):.2f} MB an hour after its first, the ledger {ledger_growth:.2f}")
    return found


def slope(samples: Sequence[Sample]) -> float:
    """MB an hour, by least squares."""
    return linear_regression([one.at for one in samples], [one.megabytes for one in samples]).slope * 3600


def _figures(soaked: Soaked, run: Run) -> dict[str, object]:
    """What to tell: of the worker that lived longest, how its memory went in the second half of its life."""
    longest = max(soaked.samples.values(), key=lambda one: one[-1].at - one[0].at)
    half = longest[len(longest) // 2:]
    return {
        "pace": PACE, "faults done": soaked.done,
        "prices acknowledged": len(soaked.prices), "unanswered": soaked.unanswered,
        "refused for now, or lost": soaked.refused,
        "workers seen": len(soaked.samples), "log bytes": (run.folder / "log").stat().st_size,
        **({"write-ahead log at most, bytes": soaked.write_ahead_log} if not run.server else {}),
        "longest life, s": round(longest[-1].at - longest[0].at),
        "MB at its first look, its middle, its last": [
            round(one.megabytes) for one in (longest[0], half[0], longest[-1])],
        "MB an hour in its second half": round(slope(half), 2) if len(half) > 2 else None,
        "MB an hour that the ledger takes": round(soaked.ledger_growth, 2),
        "descriptors, first and most": [longest[0].descriptors, max(one.descriptors for one in longest)]}


PROGRAMME = Programme("soak", "T35", "nothing grows, nothing is lost, however long", "seconds", 6, 8 * 3600, run,
                      sabotages=("connections_left_open", "places_not_given_back", "lost_write"))
