"""T11: a supplier's file comes into force entirely or not at all, while workers are killed.

Files are uploaded and accepted over HTTP, one after the other, each sent again until it is answered; half of them have
one bad line somewhere, and every row of a file is asked for by its number. Meanwhile workers are killed, and now and
then the master with all of them: by turns one at any moment, and all while an acceptance is at work. A case is a file.
Held afterwards, by the amounts, which are each file's own: a good file stands with as many prices as it has lines, all
of one revision, a bad one with none; and what is sent once more, a file or an acceptance under its key, is answered as
it was, without a revision.
"""

import random
import threading
import time
from collections import defaultdict
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import requests

from service.domain.supplier import Supplier
from service.domain.supplier_item import Pack, SupplierItem
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.whole import what_is_wrong
from tests.builders import a_primal
from tests.persistence.writing import record
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.served import NeverReady, Served, served
from tests.reliability.whole_ledger import every_entry

LINES = 8
PATIENCE = 150
BAD_LINES = ("no-such-item;9.00", "item-3;nine", "item-3;-4.00", "item-3;")
MASTER_EVERY = 8
CSV = {"Content-Type": "text/csv"}
ADDRESS = "/v1/price-proposals?supplier=fenmoor&effective_from=2027-01-04&file_name=list.csv"


@dataclass
class Importer:
    """Uploads and accepts, again until answered. `accepted` has the amount of each file that was acknowledged."""

    address: str
    headers: dict[str, str]
    chance: random.Random
    accepted: dict[Decimal, int] = field(default_factory=dict)
    refused: set[Decimal] = field(default_factory=set)
    faults: list[str] = field(default_factory=list)
    accepting: threading.Event = field(default_factory=threading.Event)
    took: float = 0.05
    unanswered: int = 0
    answered: int = 0
    repeated: int = 0

    def bring(self, number: int) -> None:
        """One file: upload it, accept every row of it, and now and then send it once more."""
        amount, bad = Decimal(1_000 + number).scaleb(-2), self.chance.random() < 0.5
        lines = [f"item-{place};{amount}" for place in range(LINES)]
        if bad:
            lines[self.chance.randrange(LINES)] = self.chance.choice(BAD_LINES)
        content = "\n".join(["Item code;Price", *lines, ""]).encode()
        proposal = self._answered("POST", ADDRESS, (200, 201), data=content, headers=CSV)
        if proposal is None:
            return
        path = f"/v1/price-proposals/{proposal['id']}/acceptance"
        body = {"overrides": [{"row": row, "reason": "All of it."} for row in range(1, LINES + 1)]}
        asked: dict[str, Any] = {"json": body, "headers": {"Idempotency-Key": f"file-{number:011}"}}
        begun, tries = time.monotonic(), self.unanswered
        if not bad:
            self.accepting.set()
        answer = self._answered("POST", path, (422,) if bad else (200,), **asked)
        if self.unanswered == tries and not bad:
            self.took = time.monotonic() - begun
        if answer is None:
            return
        if bad:
            self.refused.add(amount)
        else:
            self.accepted[amount] = answer["acceptance"]["revision"]
        if self.chance.random() < 0.2:
            self.repeated += 1
            again = self._answered("POST", ADDRESS, (200,), data=content, headers=CSV)
            if again is not None and again["id"] != proposal["id"]:
                self.faults.append(f"file {number} is proposal {proposal['id']}, sent again {again['id']}")
        if not bad and self.chance.random() < 0.3:
            self.repeated += 1
            again = self._answered("POST", path, (200,), **asked)
            if again is not None and again != answer:
                self.faults.append(f"file {number} was accepted as {answer}, and sent again as {again}")

    def _answered(self, method: str, path: str, expected: tuple[int, ...], headers: dict[str, str] | None = None,
                  **sent: Any) -> Any:
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            try:
                answer = requests.request(method, self.address + path, headers=self.headers | (headers or {}),
                                          timeout=60, **sent)
            except requests.RequestException:
                self.unanswered += 1
            else:
                self.answered += 1
                if answer.status_code in expected:
                    return answer.json()
                if answer.status_code != 503:
                    self.faults.append(f"{path} was answered {answer.status_code} {answer.text[:300]}")
                    return None
            time.sleep(0.02)
        self.faults.append(f"{path} was not answered in {PATIENCE} s")
        return None


def imports(run: Run) -> Verdict:
    """Bring file after file, while workers are killed."""
    _prepare(run.database_url)
    chance, stop = random.Random(run.seed), threading.Event()
    with served(run.database_url, run.folder, run.sabotage) as service:
        importer = Importer(service.address, {"Authorization": f"Bearer {service.a_key('admin')}"}, chance)
        kills: list[str] = []
        killer = threading.Thread(target=_kill_on, args=(service, stop, random.Random(run.seed + 1), kills, importer))
        killer.start()
        cases = 0
        while cases < run.cases and run.in_time and not importer.faults:
            importer.bring(cases)
            cases += 1
        stop.set()
        killer.join()
    faults = importer.faults + _wrong(run.database_url, importer)
    if not kills:
        faults.append("nobody was killed: it was no test")
    return Verdict(cases, tuple(faults[:20]), {
        "accepted": len(importer.accepted), "refused": len(importer.refused), "sent once more": importer.repeated,
        "kills": len(kills), "requests without answer": importer.unanswered})


def _prepare(database_url: str) -> None:
    engines = open_engines(database_url, pool_size=1)
    try:
        ledger = SqlLedger(engines)
        record(ledger, Supplier("fenmoor", "Fenmoor"), *(a_primal(f"meat-{place}") for place in range(LINES)))
        record(ledger, *(SupplierItem("fenmoor", f"item-{place}", f"Item {place}", f"meat-{place}",
                                      pack=Pack("bag", Decimal(1), Decimal(5), "kg")) for place in range(LINES)))
    finally:
        engines.dispose()


def _kill_on(service: Served, stop: threading.Event, chance: random.Random, kills: list[str], importer: Importer
             ) -> None:
    try:
        while not stop.wait(chance.uniform(0.1, 0.6)):
            if len(kills) % MASTER_EVERY == MASTER_EVERY - 1:
                service.kill_all()
                service.start()
            elif len(kills) % 2:
                service.kill_a_worker()
            else:
                importer.accepting.clear()
                importer.accepting.wait(1)
                time.sleep(chance.uniform(0, importer.took))
                service.kill_workers()
            kills.append("killed")
            before = importer.answered
            while importer.answered == before and not stop.wait(0.01):
                pass
    except NeverReady as never:
        importer.faults.append(f"the service did not come back: {never}")


def _wrong(database_url: str, importer: Importer) -> list[str]:
    """Files that are not as they were acknowledged, or stand by half."""
    engines = open_engines(database_url, pool_size=1)
    try:
        faults = what_is_wrong(engines)
        ledger = SqlLedger(engines)
        kitchen = ledger.kitchen(head := ledger.head().revision)
        said = {entry.mark for entry in every_entry(ledger, head) if entry.kind == "price"}
    finally:
        engines.dispose()
    there: dict[Decimal, list[int]] = defaultdict(list)
    for prices in kitchen.prices.values():
        for price in prices:
            there[price.amount].append(price.made.revision)
    if marks := said ^ {price.made for prices in kitchen.prices.values() for price in prices}:
        faults.append(f"prices that are told and not there, or there and not told: {sorted(marks)[:5]}")
    for amount in importer.accepted.keys() | importer.refused | there.keys():
        expected = [importer.accepted[amount]] * LINES if amount in importer.accepted else []
        if there.get(amount, []) != expected:
            faults.append(f"the file of {amount} stands with prices of {there.get(amount, [])}, not {expected}")
    return faults


PROGRAMME = Programme(
    "imports", "T11", "a file is in force entirely or not at all", "files", 30, 1_000, imports,
    sabotages=("half_commit", "no_idempotency"))
