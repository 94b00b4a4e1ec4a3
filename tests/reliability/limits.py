"""Limits: ten times what a key may ask, of four workers at once (T17): it gets what it may, and no other suffers.

A key is made with an allowance. For minute after minute (the clock of all workers is put to the start of each) clients
ask ten times as much as fast as they can, on connections that they change, so that every worker is asked. What is
wrong: fewer or more answers of 200 than a twentieth beside the allowance, over all workers together; any status but 200
and 429; a 429 that does not say when to come back, or says it wrongly; a key that is not served once that time is over;
and any answer but 200 to a till whose own allowance is far away, and which polls all the while.

When to come back is the start of the next minute, by the clock that the workers go by, to the second; or a second from
then, where a worker could not look what is left. Whether such a one had a reason cannot be known from without; but with
nobody else about, nobody is told so for long: at the end of each minute the clock is put on by what a refusal says, and
the key must be served, after a second of that kind or two at most.

Source: RFC 6585 section 4; RFC 9110 section 10.2.3; draft-ietf-httpapi-ratelimit-headers-11 for a refusal's fields.
"""

import threading
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import requests

from service import operating
from service.use_cases.keys import create_key
from service.use_cases.ports import Asker
from tests.builders import a_dish, a_line, an_ingredient
from tests.persistence.writing import record
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.served import Served, served

WORKERS, ASKING, TIMES = 4, 8, 10
MINUTES, LEAST, MOST = 5, 30, 900
"""Of the long form; and what a key is allowed at least and at most, as the number of requests has it."""
ON_A_CONNECTION = 20
WINDOW_SECONDS = 50.0
"""Of a minute: what is asked later could be counted in the next one."""
SECONDS_MORE = 2
"""That a key may be told to wait, one at a time, while it is the only one that asks."""
DISH = "/v1/dish-costs/loaf"
NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)


@dataclass
class Minute:
    """What was answered in one minute, and what was wrong with it; `ahead` is its clock, in seconds."""

    ahead: float
    statuses: Counter[int] = field(default_factory=Counter)
    faults: set[str] = field(default_factory=set)
    others: Counter[int] = field(default_factory=Counter)


def run(run: Run) -> Verdict:
    """Ask minute after minute; a case is a request."""
    minutes = MINUTES if run.cases >= MINUTES * TIMES * MOST else 1
    allowed = min(MOST, max(LEAST, run.cases // TIMES // minutes))
    faults, answered, accepted = list[str](), Counter[int](), list[int]()
    with served(run.database_url, run.folder, run.sabotage, WORKERS) as service:
        hammering, till = _prepared(service, allowed)
        for number in range(minutes):
            if not run.in_time:
                break
            minute = _asked(service, hammering, till, allowed, _put_clock(service, _begin_of(number)))
            faults += [f"minute {number + 1}: {fault}" for fault in _wrong_with(minute, allowed)]
            answered += minute.statuses
            faults += [f"minute {number + 1}: {fault}" for fault in _comes_back(service, hammering, allowed)]
            accepted.append(minute.statuses[200])
    return Verdict(answered.total(), tuple(faults), {
        "allowed a minute": allowed, "accepted": accepted, "answers": dict(answered), "of others": sum(
            minute.others.values())})


def _prepared(service: Served, allowed: int) -> tuple[str, str]:
    """A dish, a key with an allowance, and another's."""
    with operating.opened_ledger(service.settings) as ledger:
        record(ledger, an_ingredient("flour"), a_dish("loaf", a_line("ingredient flour", "500", "g")))
        key = create_key(ledger, "hammering", ["costs:read"], None, Asker("cli", "limits", "limits"), allowed)
    return str(key.document["key"]), service.a_key("costs:read")


def _begin_of(minute: int) -> float:
    """How far ahead a clock is that shows the first second of a minute that nobody has asked in."""
    return (NOON + timedelta(minutes=3 * minute + 2, seconds=1) - datetime.now(UTC)).total_seconds()


def _put_clock(service: Served, ahead: float) -> float:
    """Put the clock of all workers so many seconds ahead."""
    fresh = service.folder / "clock.new"
    fresh.write_text(str(ahead))
    fresh.replace(service.folder / "clock")
    return ahead


def _asked(service: Served, hammering: str, till: str, allowed: int, ahead: float) -> Minute:
    minute, begun, over = Minute(ahead), time.monotonic(), threading.Event()
    left = iter(range(TIMES * allowed))
    lock = threading.Lock()

    def hammer() -> None:
        session = requests.Session()
        for turn in iter(lambda: next(left, None), None):
            if time.monotonic() > begun + WINDOW_SECONDS:
                return
            if turn % ON_A_CONNECTION == 0:
                session = requests.Session()  # and so perhaps another worker
            asked = time.time() + ahead
            answer = _get(service, hammering, session)
            with lock:
                minute.statuses[answer.status_code] += 1
                minute.faults.update(_refusal_is_wrong(answer, asked, time.time() + ahead))

    def poll() -> None:
        while not over.wait(0.02):
            minute.others[_get(service, till).status_code] += 1

    threads = [threading.Thread(target=hammer) for _ in range(ASKING)]
    other = threading.Thread(target=poll)
    for thread in (*threads, other):
        thread.start()
    for thread in threads:
        thread.join()
    over.set()
    other.join()
    return minute


def _refusal_is_wrong(answer: requests.Response, asked: float, answered: float) -> Iterator[str]:
    """Of a refusal that was asked for and had between two moments of the workers' clock."""
    if answer.status_code != 429:
        return
    after, left = answer.headers.get("Retry-After", ""), answer.headers.get("RateLimit", "")
    right = {"1", *(str(60 - second % 60) for second in range(int(asked), int(answered) + 1))}
    if after not in right:
        yield f"a refusal says to come back after {after!r}, where {sorted(right)} are right"
    if left != f'"minute";r=0;t={after}':
        yield f"a refusal says that there is more, or at another time than {after!r}: {left}"


def _comes_back(service: Served, hammering: str, allowed: int) -> Iterator[str]:
    """Use up what is left of the minute, and come back when a refusal says."""
    ahead = float((service.folder / "clock").read_text())
    for _ in range(allowed + 1):
        if (answer := _get(service, hammering)).status_code != 200:
            break
    for _ in range(1 + SECONDS_MORE):
        told = answer.headers.get("Retry-After", "")
        if answer.status_code != 429 or not told.isdigit():
            yield f"with its minute used up the key was answered {answer.status_code}, to come back after {told!r}"
            return
        ahead = _put_clock(service, ahead + int(told))
        if (answer := _get(service, hammering)).status_code == 200:
            return
    yield f"after the {told} s that a refusal said the key was answered {answer.status_code}"


def _wrong_with(minute: Minute, allowed: int) -> Iterator[str]:
    accepted, asked = minute.statuses[200], minute.statuses.total()
    if not 0.95 * allowed <= accepted <= 1.05 * allowed:
        yield f"{accepted} of {asked} were accepted, where {allowed} are allowed"
    if asked < 2 * allowed:
        yield f"too little was asked to say anything: {asked}"
    if not minute.statuses.keys() <= {200, 429}:
        yield f"answers: {dict(minute.statuses)}"
    if minute.others.keys() != {200}:
        yield f"others were answered {dict(minute.others)}"
    yield from sorted(minute.faults)


def _get(service: Served, key: str, session: requests.Session | None = None) -> requests.Response:
    return (session or requests).get(service.address + DISH, headers={"Authorization": f"Bearer {key}"}, timeout=60)


PROGRAMME = Programme(
    "limits", "T17", "a key gets what it is allowed over all workers, and others are unharmed", "requests", 400,
    MINUTES * TIMES * MOST, run, sabotages=("allowances_apart",))
