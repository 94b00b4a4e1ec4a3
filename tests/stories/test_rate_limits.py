"""A key's requests a minute over three real workers: within a twentieth, whoever asks and whatever dies on the way.

The clock of all workers is put to the start of a minute, so that what is asked for some seconds is asked in one window.
Sources: draft-ietf-httpapi-ratelimit-headers-11, sections 3, 4 and 6; the fields are read by http-sf (RFC 9651).
"""

import os
import signal
import threading
import time
from collections import Counter
from collections.abc import Iterator
from datetime import date, timedelta
from itertools import count

import pytest
import requests
from http_sf import parse

from service import operating
from service.use_cases.ports import Asker
from tests.stories.running_service import MONDAY, Client, RunningService

DISH = "/v1/dish-costs/grilled-cap"
ASKING = 9
"""Threads, each with a connection of its own."""


@pytest.fixture(scope="module")
def days() -> Iterator[date]:
    """Days to move to, each with a minute that nobody has asked in."""
    return (MONDAY + timedelta(days=number) for number in count())


def a_till(service: RunningService, per_minute: int) -> Client:
    """A client whose key may make so many requests a minute."""
    made = service.admin.keep("/v1/keys", {
        "name": "hammering till", "scopes": ["costs:read"], "requests_per_minute": per_minute})
    assert made["requests_per_minute"] == per_minute
    return Client(service.address, made["key"], service.validator)


def hammered(service: RunningService, till: Client, until_refused: int = 30, **headers: str) -> Counter[int]:
    """How many answers of each status many threads get at once, until each was refused so often."""
    totals: Counter[int] = Counter()
    started = time.monotonic()

    def hammer() -> None:
        seen: Counter[int] = Counter()
        with requests.Session() as session:
            session.headers.update({"Authorization": f"Bearer {till.key}"} | headers)
            while seen[429] < until_refused:
                answer = session.get(service.address + DISH, timeout=30)
                seen[answer.status_code] += 1
                hold_to_fields(answer)
        totals.update(seen)

    threads = [threading.Thread(target=hammer) for _ in range(ASKING)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert time.monotonic() - started < 50, "it was all asked within one minute"
    return totals


def within_a_twentieth(answered: int, allowed: int) -> bool:
    """More than the allowance is what was lent and never booked, when a lease was not to be had under the load."""
    return 0.95 * allowed <= answered <= 1.05 * allowed


def hold_to_fields(answer: requests.Response) -> None:
    """Both fields parse, name one policy, and agree with the status and with Retry-After."""
    ((_, policy),) = parse(answer.headers["RateLimit-Policy"].encode(), tltype="list")
    ((_, left),) = parse(answer.headers["RateLimit"].encode(), tltype="list")
    assert policy["w"] == 60
    assert 0 <= left["r"] < policy["q"]
    assert 0 < left["t"] <= 60
    if answer.status_code == 429:
        assert left["r"] == 0
        assert int(answer.headers["Retry-After"]) >= left["t"]


def test_a_key_that_many_hammer_gets_its_allowance_and_more_after_retry_after(
    service_of_three: RunningService, days: Iterator[date]
) -> None:
    till = a_till(service_of_three, 900)
    start_a_minute(service_of_three, next(days))
    seen = hammered(service_of_three, till)
    assert seen.keys() == {200, 429}
    assert within_a_twentieth(seen[200], 900)
    refused = till.get(DISH)
    assert (refused.status_code, refused.headers["Cache-Control"]) == (429, "no-store")
    move_on(service_of_three, int(refused.headers["Retry-After"]))
    assert {client.get(DISH).status_code for client in service_of_three.clients_of_every_worker(till).values()} == {200}


def test_answers_of_304_count_a_tenth(service_of_three: RunningService, days: Iterator[date]) -> None:
    till = a_till(service_of_three, 100)
    start_a_minute(service_of_three, next(days))
    tag = till.get(DISH).headers["ETag"]
    seen = hammered(service_of_three, till, **{"If-None-Match": tag})
    assert seen.keys() == {304, 429}
    assert within_a_twentieth(seen[304], 990)


def test_a_worker_that_is_killed_takes_at_most_its_lease_with_it(
    service_of_three: RunningService, days: Iterator[date]
) -> None:
    till = a_till(service_of_three, 900)
    clients = service_of_three.clients_of_every_worker(till)
    start_a_minute(service_of_three, next(days))
    killed, through_it = next(iter(clients.items()))
    before = sum(through_it.get(DISH).status_code == 200 for _ in range(150))
    assert before == 150
    os.kill(killed, signal.SIGKILL)
    until = time.monotonic() + 20
    while killed in service_of_three.worker_processes() or service_of_three.workers < 3:
        assert time.monotonic() < until
        time.sleep(0.05)
    assert within_a_twentieth(before + hammered(service_of_three, till)[200], 900)


def test_a_long_writer_neither_stops_a_key_nor_frees_it(service_of_three: RunningService, days: Iterator[date]) -> None:
    """On SQLite what is asked meanwhile is lent, up to a sixteenth in each worker, and booked afterwards."""
    till = a_till(service_of_three, 900)
    start_a_minute(service_of_three, next(days))
    with operating.opened_ledger(service_of_three.settings) as ledger, ledger.write(Asker("cli", "story", "story")):
        meanwhile = Counter(till.get(DISH).status_code for _ in range(50))
    assert meanwhile == {200: 50}
    assert within_a_twentieth(50 + hammered(service_of_three, till)[200], 900)


def start_a_minute(service: RunningService, day: date) -> None:
    """Move the clock of every worker to a minute's first second; noon is met to the second before."""
    service.move_to(day)
    move_on(service, 1)


def move_on(service: RunningService, seconds: int) -> None:
    """Move the clock of every worker by some seconds."""
    clock = service.settings.clock_file
    assert clock is not None
    fresh = clock.with_suffix(".new")
    fresh.write_text(str(float(clock.read_text()) + seconds))
    fresh.replace(clock)
