"""Stopping and changing services under load, behind the proxy that ships: no request fails, and no write is lost.

Two services on one PostgreSQL stand behind the proxy. Clients that keep their connections ask it about a hundred times
a second: they read costs, record prices with no Idempotency-Key, so that every effect counts, and wait for changes.
Meanwhile, in turn:
  - a service is told to stop (SIGTERM), and started anew once it has ended, with 0;
  - a service is told to change its workers (SIGHUP);
  - a worker is told to end (SIGTERM);
  - a worker ends after the requests that it may answer (max_requests).
Anything but the expected answer is a fault, and so is a price that was acknowledged and is not there, or is there
without having been acknowledged.

Reference: without draining, and with gunicorn's workers of one request each, 6 of 8 queued requests were reset.
"""

import itertools
import os
import signal
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import requests

from service import operating, wiring
from service.settings import Settings
from service.use_cases.keys import create_key
from service.use_cases.ports import Asker
from tests.docker.proxy import free_ports, running_proxy
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.serving import SABOTAGES, Service, running

READERS, WRITERS, WAITERS = 6, 3, 2
PAUSE_SECONDS = 0.08
"""Between two requests of a client: nine of them make a hundred a second, less what the answers take."""
LEAVING_SECONDS = "1"
REQUESTS_OF_A_WORKER = "300"
PATIENCE = 300.0
"""How long it may take until a worker has changed: on a machine full of other work some requests a second are all."""


@dataclass
class Load:
    """Clients of a proxy, each with a connection that it keeps, and what came of their requests."""

    address: str
    key: str
    faults: list[str] = field(default_factory=list)
    answered: int = 0
    slowest: float = 0.0
    acknowledged: list[str] = field(default_factory=list)
    _over: threading.Event = field(default_factory=threading.Event)
    _numbers: Any = field(default_factory=lambda: itertools.count(1))
    _threads: list[threading.Thread] = field(default_factory=list)

    def __enter__(self) -> "Load":
        kinds = [self._read] * READERS + [self._write] * WRITERS + [self._wait] * WAITERS
        self._threads = [threading.Thread(target=self._client, args=(kind,)) for kind in kinds]
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_exception: object) -> None:
        self._over.set()
        for thread in self._threads:
            thread.join()

    def _client(self, ask: Callable[[requests.Session], requests.Response]) -> None:
        with requests.Session() as session:
            session.headers["Authorization"] = f"Bearer {self.key}"
            while not self._over.wait(PAUSE_SECONDS):
                begun = time.monotonic()
                try:
                    answer = ask(session)
                    if answer.status_code not in (200, 201):
                        self.faults.append(f"{answer.request.method} {answer.url}: {answer.status_code} {answer.text}")
                except requests.RequestException as error:
                    self.faults.append(f"{type(error).__name__}: {error}")
                self.answered += 1
                if ask != self._wait:
                    self.slowest = max(self.slowest, time.monotonic() - begun)

    def _read(self, session: requests.Session) -> requests.Response:
        return session.get(f"{self.address}/v1/dish-costs", timeout=90)

    def _wait(self, session: requests.Session) -> requests.Response:
        return session.get(f"{self.address}/v1/dish-costs/changes", params={"wait": "20"}, timeout=90)

    def _write(self, session: requests.Session) -> requests.Response:
        amount = f"{next(self._numbers)}.00"
        answer = session.post(f"{self.address}/v1/ingredients/salt/prices", timeout=90, json={
            "supplier": "brine-house", "amount": amount, "pack_quantity": "1", "pack_unit": "kg",
            "effective_from": "2026-03-02"})
        if answer.status_code == 201:
            self.acknowledged.append(amount)
        return answer


def run(told: Run) -> Verdict:
    """Stop and change services as often as there are cases; what failed."""
    key = a_kitchen(told.database_url)
    settings = {"SEAMCOST_DRAIN_SECONDS": LEAVING_SECONDS, "SEAMCOST_MAX_REQUESTS": REQUESTS_OF_A_WORKER}
    services = [Service(port, told.database_url, told.folder, settings, told.sabotage) for port in free_ports(2)]
    done: dict[str, int] = {}
    with running(*services), running_proxy(told.folder / "proxy", [each.port for each in services]) as proxy:
        with Load(f"http://127.0.0.1:{proxy.port}", key) as load:
            begun = time.monotonic()
            for case in range(told.cases):
                if not told.in_time:
                    break
                kind = KINDS[case % len(KINDS)]
                kind(services[case // len(KINDS) % 2], load.faults)
                done[kind.__name__.strip("_")] = done.get(kind.__name__.strip("_"), 0) + 1
            seconds = time.monotonic() - begun
        faults = [*load.faults[:20], *_counted(services[0], key, load)]
    return Verdict(sum(done.values()), tuple(faults), {
        **done, "requests": load.answered, "a second": round(load.answered / seconds), "failed": len(load.faults),
        "prices": len(load.acknowledged), "slowest": f"{load.slowest:.1f} s"})


def _stopped_and_started(service: Service, faults: list[str]) -> None:
    service.tell(signal.SIGTERM)
    status = service.ended()
    if status != 0:
        faults.append(f"A service that was told to stop ended with {status}.")
    service.start()
    service.ready()


def _workers_changed(service: Service, faults: list[str]) -> None:
    before = service.workers()
    service.tell(signal.SIGHUP)
    _until(lambda: len(service.workers() - before) >= 2 and not service.workers() & before, "SIGHUP", faults)


def _worker_told_to_end(service: Service, faults: list[str]) -> None:
    before = service.workers()
    ended = min(before)
    os.kill(ended, signal.SIGTERM)
    _until(lambda: ended not in service.workers() and len(service.workers()) >= 2, "a worker's SIGTERM", faults)


def _worker_at_its_last_request(service: Service, faults: list[str]) -> None:
    before = service.workers()
    _until(lambda: service.workers() != before, "the end of max_requests", faults)


KINDS: Sequence[Callable[[Service, list[str]], None]] = (
    _stopped_and_started, _workers_changed, _worker_told_to_end, _worker_at_its_last_request)


def _until(comes_about: Callable[[], bool], what: str, faults: list[str]) -> None:
    end = time.monotonic() + PATIENCE
    while not comes_about():
        if time.monotonic() > end:
            faults.append(f"{what} did not change a worker within {PATIENCE:.0f} s.")
            return
        time.sleep(0.05)


def a_kitchen(database_url: str) -> str:
    """A dish of a kilogram of salt; a key."""
    settings = Settings(database_url=database_url)
    with operating.opened_ledger(settings) as ledger:
        created = create_key(ledger, "a till", ["admin"], None, Asker("cli", "graceful stop", "graceful stop"),
                             requests_per_minute=600_000)
        app = wiring.app_on(ledger, settings)
        client, key = app.test_client(), str(created.document["key"])
        for method, path, body in (
                ("PUT", "/v1/suppliers/brine-house", {"name": "Brine House"}),
                ("PUT", "/v1/ingredients/salt", {"name": "Salt", "kind": "other", "base_unit": "kg", "allergens": []}),
                ("PUT", "/v1/dishes/salted", {"name": "Salted", "portions": "1", "lines": [
                    {"ingredient": "salt", "quantity": "1", "unit": "kg"}], "effective_from": "2026-03-02"})):
            kept = client.open(path, method=method, json=body, headers={"Authorization": f"Bearer {key}"})
            assert kept.status_code in (200, 201), kept.text
    return key


def _counted(service: Service, key: str, load: Load) -> list[str]:
    """Prices that were acknowledged and are not there, and the other way about."""
    there, cursor = [], ""
    while cursor is not None:
        page = requests.get(f"{service.url}/v1/ingredients/salt/prices", timeout=90,
                            params={"limit": "200"} | ({"cursor": cursor} if cursor else {}),
                            headers={"Authorization": f"Bearer {key}"}).json()
        there += [str(price["amount"]) for price in page["data"]]
        cursor = page["next_cursor"]
    there = [f"{float(amount):.2f}" for amount in there]
    lost = sorted(set(load.acknowledged) - set(there))
    unasked = len(there) - len(set(there)) + len(set(there) - set(load.acknowledged))
    return ([f"Acknowledged, and not there: {lost[:10]}"] if lost else []) + (
        [f"There twice, or without having been acknowledged: {unasked}"] if unasked else [])


PROGRAMME = Programme(
    name="graceful_stop", row="T32", promise="A stop, a change of workers or of services fails no request.",
    unit="stops", short=2, long=800, run=run, engines=("postgresql",), sabotages=("stops-at-once",))
assert set(PROGRAMME.sabotages) <= set(SABOTAGES)
