"""T05: many clients change few records at once over HTTP, each with If-Match; no update may be lost.

Eight clients on two workers read a counter, add one and write it back on the tag they have read; on 412 they begin
again. A quarter of the time they only read. Counters stand in the notes of four suppliers, so that two clients on an
average are at one. A case is an acknowledged change.

On a busy machine a writer may wait for the lock longer than it has patience for: 503. That is a refusal and is judged
as one: it has had no effect, so that its value is never read, no other change stands on it, and it does not count. (A
503 that says that the outcome is not known would be another thing; here no connection is lost, and it is a fault.) One
in fifty may be answered so, of fewer none: more would be an outage, and is a fault of its own.

Held afterwards: each counter stands at its start plus the changes acknowledged; every acknowledged revision is told
once, every base used once; and the judge of histories (histories.py) finds the whole of what was seen possible.
"""

import random
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

import requests

from service.domain.supplier import Supplier
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from tests.persistence.writing import record
from tests.reliability.histories import Operation, Outcome, judged
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.served import served

CLIENTS, RECORDS = 8, 4


@dataclass
class Goal:
    """How many changes are still to be acknowledged, counted by all clients together."""

    left: int
    run: Run
    lock: threading.Lock = field(default_factory=threading.Lock)

    def take(self) -> None:
        with self.lock:
            self.left -= 1

    @property
    def reached(self) -> bool:
        return self.left <= 0 or not self.run.in_time


@dataclass
class Client:
    """One client, and all that it saw."""

    name: str
    address: str
    key: str
    chance: random.Random
    history: list[Operation] = field(default_factory=list)
    came: Counter[int] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)

    def work(self, goal: Goal) -> None:
        """Change counters until enough changes are acknowledged."""
        with requests.Session() as session:
            session.headers["Authorization"] = f"Bearer {self.key}"
            while not goal.reached and not self.faults:
                counter = f"counter-{self.chance.randrange(RECORDS)}"
                tag, note = self._read(session, counter)
                if self.chance.random() >= 0.25 and self._change(session, counter, tag, note):
                    goal.take()

    def _read(self, session: requests.Session, counter: str) -> tuple[str, str]:
        begun = time.monotonic()
        answer = session.get(f"{self.address}/v1/suppliers/{counter}", timeout=60)
        ended = time.monotonic()
        self.came[answer.status_code] += 1
        if answer.status_code != 200:
            self.faults.append(f"reading {counter} was answered {answer.status_code} {answer.text[:200]}")
            return "", "0"
        body = answer.json()
        value = body["note"] if ":" in body["note"] else ""
        self.history.append(Operation(self.name, counter, begun, ended, "read", value, body["revision"]))
        return answer.headers["ETag"], body["note"]

    def _change(self, session: requests.Session, counter: str, tag: str, note: str) -> bool:
        """Add one; whether it was acknowledged."""
        if self.faults:
            return False
        value = f"{int(note.partition(':')[0]) + 1}:{self.name}-{len(self.history)}"
        begun = time.monotonic()
        answer = session.put(f"{self.address}/v1/suppliers/{counter}", json={"name": "Counter", "note": value},
                             headers={"If-Match": tag}, timeout=60)
        ended = time.monotonic()
        self.came[answer.status_code] += 1
        outcome = outcome_of(answer.status_code, answer.json().get("type", ""))
        if outcome == "unknown":
            self.faults.append(f"changing {counter} was answered {answer.status_code} {answer.text[:200]}")
        self.history.append(Operation(
            self.name, counter, begun, ended, outcome, value,
            answer.json()["revision"] if outcome == "written" else None, int(tag.strip('"').partition(".")[0])))
        return outcome == "written"


def outcome_of(status: int, problem: str) -> Outcome:
    """What an answer says of a change: recorded, refused without effect, or neither."""
    if status == 200:
        return "written"
    without_effect = status == 412 or (status == 503 and not problem.endswith("/outcome-unknown"))
    return "refused" if without_effect else "unknown"


def conflicts(run: Run) -> Verdict:
    """Change the counters until `run.cases` changes are acknowledged."""
    _record_counters(run.database_url)
    with served(run.database_url, run.folder, run.sabotage) as service:
        key, goal = service.a_key("admin"), Goal(run.cases, run)
        clients = [Client(f"client-{number}", service.address, key, random.Random(f"{run.seed} {number}"))
                   for number in range(CLIENTS)]
        begun = time.monotonic()
        threads = [threading.Thread(target=client.work, args=(goal,)) for client in clients]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        seconds = time.monotonic() - begun
    history = [operation for client in clients for operation in client.history]
    faults = [fault for client in clients for fault in client.faults]
    faults += [*_wrong_ends(run.database_url, history), *judged(history)]
    came: Counter[Any] = sum((client.came for client in clients), Counter())
    written = sum(operation.outcome == "written" for operation in history)
    if came[503] > written // 50:
        faults.insert(0, f"more than one change in fifty was answered 503, {came[503]} in all")
    return Verdict(written, tuple(faults[:20]), {
        "acknowledged": written, "refused as stale": came[412], "answered 503": came[503],
        "reads judged": came[200] - written,
        "lost": sum("lost" in fault or "stands at" in fault for fault in faults),
        "changes a second": round(written / seconds)})


def _record_counters(database_url: str) -> None:
    engines = open_engines(database_url, pool_size=1)
    try:
        record(SqlLedger(engines), *(Supplier(f"counter-{number}", "Counter", "0") for number in range(RECORDS)))
    finally:
        engines.dispose()


def _wrong_ends(database_url: str, history: list[Operation]) -> list[str]:
    """The counters that do not stand at as many changes as were acknowledged."""
    engines = open_engines(database_url, pool_size=1)
    try:
        ledger = SqlLedger(engines)
        suppliers = ledger.kitchen(ledger.head().revision).suppliers
    finally:
        engines.dispose()
    acknowledged = Counter(each.record for each in history if each.outcome == "written")
    stands = {f"counter-{number}": int(suppliers[f"counter-{number}"][-1].record.note.partition(":")[0])
              for number in range(RECORDS)}
    return [f"{counter} stands at {count}, and {acknowledged[counter]} changes were acknowledged"
            for counter, count in stands.items() if count != acknowledged[counter]]


PROGRAMME = Programme(
    "conflicts", "T05", "no update is lost, and what clients saw is possible", "acknowledged changes", 300, 10_000,
    conflicts, sabotages=("unsafe_transactions", "stale_decisions", "no_if_match"))
