"""Reads stay fast while files are parsed (T10): polls beside two importers of worst-case files and a wide cascade.

Tills poll fifty times a second: alone, then beside two who send workbooks that take all that a reader is given (a sheet
within every limit that unpacks to a grid of 24 million cells, one of 420 MB of zeros, a long honest list), then beside
these and one who moves, without a pause, a price that every dish stands on. What is wrong is any answer to a poll but
200 and 304, any answer to an import but a proposal, a clear refusal, or 503 with Retry-After, and any answer to a price
but 201. How much slower the polls' 99th percentile became is told, and judged by nobody here: `python -m
tests.benchmarks` is for figures.
"""

import json
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import requests

from service import operating
from service.domain.supplier import Supplier
from service.settings import Settings
from service.use_cases.keys import revoke_key
from tests.benchmarks.mixed_load import ended, started
from tests.benchmarks.price_lists import as_csv
from tests.builders import a_dish, a_line, a_price, an_ingredient, some_settings
from tests.integrations.price_lists.hostile.hostile_workbooks import sheet_of_numbers, sheet_of_zeros_that_lies
from tests.persistence.writing import CHEF, record
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.served import Served, served

POLLS_A_SECOND, TILLS = 50, 10
THREADS = 16
"""Of a worker, as it is shipped."""
WIDEST = 5_000
"""Dishes that the price moves, in the long form: a dish for every case, up to these."""
KEY_REVOKED = "key_revoked"
"""Done amid the polls to show that a wrong answer is seen; it breaks nothing of the service."""
FINE_FOR_A_POLL, FINE_FOR_A_FILE = ("200", "304"), (200, 201, 413, 422)


@dataclass
class Doers:
    """Those who import and move prices until they are told to stop, and what was wrong with their answers."""

    service: Served
    key: str
    done: threading.Event = field(default_factory=threading.Event)
    faults: list[str] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=lambda: {"imports": 0, "put off": 0, "cascades": 0})
    threads: list[threading.Thread] = field(default_factory=list)

    def begin_files(self) -> None:
        """Two who send files, without a pause."""
        files = (sheet_of_numbers(), sheet_of_zeros_that_lies(), as_csv(5_000))

        def importing(first: int) -> Callable[[int], None]:
            return lambda turn: self._import(_another(files[(turn + first) % len(files)], turn))

        self._begin(importing(0))
        self._begin(importing(1))

    def begin_prices(self) -> None:
        """One who moves a price, without a pause."""
        self._begin(self._cascade)

    def end(self) -> None:
        self.done.set()
        for thread in self.threads:
            thread.join()
        if self.counts["imports"] == self.counts["put off"] or not self.counts["cascades"]:
            self.faults.append(f"no file was read, or no price moved, beside the polls: {self.counts}")

    def _begin(self, work: Callable[[int], None]) -> None:
        self.threads.append(threading.Thread(target=self._until_done, args=(work,)))
        self.threads[-1].start()

    def _until_done(self, work: Callable[[int], None]) -> None:
        turn = 0
        while not self.done.is_set():
            try:
                work(turn)
            except requests.RequestException as error:
                self.faults.append(f"a writer lost its connection: {error!r}"[:300])
            turn += 1

    def _post(self, path: str, content: bytes, media_type: str) -> requests.Response:
        return requests.post(f"{self.service.address}/v1/{path}", data=content, timeout=120, headers={
            "Authorization": f"Bearer {self.key}", "Content-Type": media_type})

    def _import(self, content: bytes) -> None:
        answer = self._post("price-proposals?supplier=fenmoor&effective_from=2026-12-01", content,
                            "application/octet-stream")
        self.counts["imports"] += 1
        if answer.status_code == 503 and "Retry-After" in answer.headers:
            self.counts["put off"] += 1
            time.sleep(0.2)
        elif answer.status_code not in FINE_FOR_A_FILE:
            self.faults.append(f"a file was answered with {answer.status_code}: {answer.text[:200]}")

    def _cascade(self, turn: int) -> None:
        answer = self._post("ingredients/salt/prices", json.dumps({
            "supplier": "fenmoor", "amount": f"{1 + turn % 90 / 100:.2f}", "pack_quantity": "1", "pack_unit": "kg"
        }).encode(), "application/json")
        self.counts["cascades"] += 1
        if answer.status_code != 201:
            self.faults.append(f"a price was answered with {answer.status_code}: {answer.text[:200]}")


def _another(content: bytes, turn: int) -> bytes:
    """The same list with one row more, since a file that came before is known again; a workbook is refused anyway."""
    return content if content.startswith(b"PK") else content + f"x-{turn},Another good,kg,{turn}.00\r\n".encode()


def run(run: Run) -> Verdict:
    """Poll alone, beside the files, and beside files and prices, a third of the cases each; a case is a poll."""
    seconds = min(run.cases / 3 / POLLS_A_SECOND, max(1.0, (run.until - time.monotonic()) / 3))
    _fill(run.database_url, dishes := min(WIDEST, run.cases))
    with served(run.database_url, run.folder, threads=THREADS) as service:
        doers, till = Doers(service, service.a_key("admin")), service.a_key("costs:read")
        _polls(service, till, dishes, 0.3)
        found = {"alone": _polls(service, till, dishes, seconds)}
        doers.begin_files()
        if run.sabotage == KEY_REVOKED:
            _revoke(service.settings, till)
        found["beside files"] = _polls(service, till, dishes, seconds)
        doers.begin_prices()
        found["beside files and prices"] = _polls(service, till, dishes, seconds)
        doers.end()
    return Verdict(sum(int(each["count"]) for each in found.values()), (*doers.faults, *_wrong(found)), {
        "dishes that a price moves": dishes,
        **{f"p99 {beside}, ms": round(each["p99"], 1) for beside, each in found.items()},
        **{f"times as long {beside}": round(each["p99"] / found["alone"]["p99"], 1) for beside, each in found.items()
           if beside != "alone"},
        "longest, ms": round(max(each["most"] for each in found.values()), 1), **doers.counts})


def _wrong(found: Mapping[str, Mapping[str, Any]]) -> Iterator[str]:
    for beside, each in found.items():
        for status, count in each["statuses"].items():
            if status not in FINE_FOR_A_POLL:
                yield f"{count} polls {beside} were answered with {status}"


def _polls(service: Served, key: str, dishes: int, seconds: float) -> Mapping[str, Any]:
    """Polls of the tills for so long: what a process of the load says of them."""
    paths = [f"/v1/dish-costs/dish-{number % dishes}" for number in range(7)]
    plan = {"port": int(service.address.rpartition(":")[2]), "key": key, "seconds": seconds, "readers": [
        {"kind": "poll", "paths": paths[number % 7:][:1], "tags": True, "pause": TILLS / POLLS_A_SECOND}
        for number in range(TILLS)]}
    found: Mapping[str, Any] = ended(started("crowd", plan))["poll"]
    return found


def _fill(database_url: str, dishes: int) -> None:
    """A menu of which every dish stands on the price of salt; one in ten lacks the price of another ingredient."""
    with operating.opened_ledger(Settings(database_url=database_url)) as ledger:
        record(ledger, some_settings(), Supplier("fenmoor", "Fenmoor Yard"),
               an_ingredient("salt", preferred_supplier="fenmoor"), an_ingredient("saffron"),
               an_ingredient("flour"), a_price("0.90", ingredient="flour", supplier="fenmoor"))
        record(ledger, *(a_dish(f"dish-{number}", a_line("ingredient salt", "5", "g"), a_line(
            "ingredient flour" if number % 10 else "ingredient saffron", str(50 + number), "g"))
                         for number in range(dishes)))


def _revoke(settings: Settings, secret: str) -> None:
    """The tills' key opens nothing any more."""
    with operating.opened_ledger(settings) as ledger:
        revoke_key(ledger, secret.split("_")[1], CHEF)


PROGRAMME = Programme(
    "reads_during_imports", "T10", "reads stay fast while files are parsed", "polls", 150, 30_000, run,
    sabotages=(KEY_REVOKED,))
