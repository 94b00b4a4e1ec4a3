"""Writers who never give up: each sends the next write until it is answered, and notes what was acknowledged.

Two kinds of write in turn: a price, with an Idempotency-Key, and a supplier's note, with If-Match. Every one carries a
word that no other has, so that whoever looks at the ledger afterwards can tell each of them. A request that got no
answer, or 503, is sent again as it was. Now and then an answered one is sent again too: it must be answered the same.
"""

import random
import threading
import time
from dataclasses import dataclass, field
from typing import Any

import requests

from service.domain.supplier import Supplier
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from tests.builders import a_primal
from tests.persistence.writing import record

AGAIN = (503, 507)
PATIENCE = 150


@dataclass(frozen=True)
class Write:
    """One request, and the word that tells it from all others."""

    word: str
    method: str
    path: str
    body: dict[str, Any]
    headers: dict[str, str]


@dataclass
class Writer:
    """One writer with a key and records of its own. `acknowledged` holds the revision of each write's word."""

    address: str
    key: str
    name: str
    seed: int
    acknowledged: dict[str, int] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    unanswered: int = 0
    repeated: int = 0
    tag: int | None = None
    number: int = 0
    amounts: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.chance = random.Random(f"{self.seed} {self.name}")
        self.session = requests.Session()

    def write_on(self, stop: threading.Event) -> None:
        """Write until told to stop; the write that is under way then is brought to its end."""
        while not stop.is_set() and not self.faults:
            self.number += 1
            asked = self._price() if self.number % 3 else self._note()
            answer = self._until_answered(asked)
            if answer is None:
                return
            if self._took(asked, answer) and self.chance.random() < 0.1:
                self._repeat(asked, answer)

    def _price(self) -> Write:
        word = f"{self.name}-{self.number}"
        self.amounts[word] = f"{self.chance.randint(100, 9999) / 100:.2f}"
        body = {"supplier": "fenmoor", "amount": self.amounts[word], "pack_quantity": "1", "pack_unit": "kg",
                "reference": word}
        return Write(word, "POST", f"/v1/ingredients/{INGREDIENT}/prices", body, {"Idempotency-Key": word.zfill(16)})

    def _note(self) -> Write:
        word = f"{self.name}-{self.number}"
        condition = {"If-None-Match": "*"} if self.tag is None else {"If-Match": f'"{self.tag}"'}
        return Write(word, "PUT", f"/v1/suppliers/{self.name}", {"name": "Writer", "note": word}, condition)

    def _until_answered(self, asked: Write) -> requests.Response | None:
        """Send it until it is answered; a fault when that takes too long."""
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            try:
                answer = self._send(asked)
            except requests.RequestException:
                self.unanswered += 1
                self.session.close()
            else:
                if answer.status_code not in AGAIN:
                    return answer
            time.sleep(0.01)
        self.faults.append(f"{asked.word} was not answered in {PATIENCE} s")
        return None

    def _took(self, asked: Write, answer: requests.Response) -> bool:
        """Note what was acknowledged."""
        created_by_the_lost_try = answer.status_code == 412 and self.tag is None and asked.method == "PUT"
        if created_by_the_lost_try:
            found = self._until_answered(Write(asked.word, "GET", asked.path, {}, {}))
            if found is None:
                return False
            answer = found
        if answer.status_code not in (200, 201):
            self.faults.append(f"{asked.word} was answered {answer.status_code}: {answer.text[:200]}")
            return False
        body = answer.json()
        self.acknowledged[asked.word] = body["revision"]
        if asked.method == "PUT":
            if body["note"] != asked.word:
                self.faults.append(f"{asked.word} was acknowledged with the note {body['note']!r}")
            self.tag = body["revision"]
        return True

    def _repeat(self, asked: Write, first: requests.Response) -> None:
        if "If-None-Match" in asked.headers:
            return
        again = self._until_answered(asked)
        self.repeated += 1
        if again is not None and (again.status_code, again.json()) not in (
                (status, first.json()) for status in (200, 201)):
            self.faults.append(f"{asked.word} sent again was answered {again.status_code} {again.text[:200]}, "
                               f"at first {first.status_code} {first.text[:200]}")

    def _send(self, asked: Write) -> requests.Response:
        return self.session.request(asked.method, self.address + asked.path, json=asked.body or None, timeout=30,
                                    headers=self._headers() | asked.headers)

    def _headers(self) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.key}"}


INGREDIENT = "beef-topside"


def prepare(database_url: str) -> None:
    """Record what the writers write about."""
    engines = open_engines(database_url, pool_size=1)
    try:
        record(SqlLedger(engines), Supplier("fenmoor", "Fenmoor"), a_primal(INGREDIENT))
    finally:
        engines.dispose()


@dataclass
class Crew:
    """Several writers at work, each in a thread."""

    writers: list[Writer]
    stop: threading.Event = field(default_factory=threading.Event)
    threads: list[threading.Thread] = field(default_factory=list)

    def begin(self) -> None:
        self.threads = [threading.Thread(target=writer.write_on, args=(self.stop,)) for writer in self.writers]
        for thread in self.threads:
            thread.start()

    def wait_for_more(self) -> None:
        """Wait until as many writes as there are writers have been acknowledged, or one is at fault."""
        goal, until = self.acknowledged + len(self.writers), time.monotonic() + PATIENCE
        while self.acknowledged < goal and not self.faults:
            if time.monotonic() > until:
                self.writers[0].faults.append(f"next to nothing was acknowledged in {PATIENCE} s")
            time.sleep(0.005)

    def end(self) -> None:
        self.stop.set()
        for thread in self.threads:
            thread.join()

    @property
    def faults(self) -> list[str]:
        return [fault for writer in self.writers for fault in writer.faults]

    @property
    def acknowledged(self) -> int:
        return sum(len(writer.acknowledged) for writer in self.writers)
