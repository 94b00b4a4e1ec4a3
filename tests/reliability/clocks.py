"""Clocks: right figures on each side of each boundary of a day, whatever the zone does there and the clocks of workers.

Two workers share a ledger, the second's clock five minutes behind. A price starts on a day; the moment at which that
day begins is typed here from published facts of the time zone database, as an instant in UTC, and not worked out by the
library that the service goes by. What must hold: a second before, the old price, at it, the new one, and so on for
an hour, though nothing be written and the hour come twice; what a write has dated is never undated by a worker that
is behind, nor by a clock that is set back an hour; days of revisions never go back; the feed of changes tells the
change once; no tag is ever given for two different answers.

Source: IANA time zone database, 2025b and later, files europe, asia, australasia, southamerica (the rules beside each
boundary); RFC 3339.
"""

import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from service import wiring
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.settings import Settings
from service.use_cases.keys import create_key
from tests.reliability import sabotage
from tests.reliability.programme import Programme, Run, Verdict
from tests.rest.small_kitchen import BUILDER, INGREDIENT, SUPPLIER, a_use

BEHIND = timedelta(minutes=5)
AHEAD = timedelta(days=1, hours=1)
TICK = timedelta(seconds=1)
QUARTER, QUARTERS = timedelta(minutes=15), 4


@dataclass(frozen=True)
class Boundary:
    """The instant at which a business day begins: `begins` is UTC, from the rule that `fact` tells."""

    zone: str
    start: str
    day: date
    begins: datetime
    fact: str
    day_before: date | None = None


def _at(zone: str, start: str, day: str, begins: str, fact: str, before: str = "") -> Boundary:
    return Boundary(zone, start, date.fromisoformat(day), datetime.fromisoformat(begins).replace(tzinfo=UTC), fact,
                    date.fromisoformat(before) if before else None)


BOUNDARIES = (
    _at("UTC", "00:00", "2026-03-03", "2026-03-03T00:00", "no offset"),
    _at("UTC", "04:00", "2026-03-03", "2026-03-03T04:00", "no offset"),
    _at("UTC", "00:00", "2028-02-29", "2028-02-29T00:00", "a leap year"),
    _at("UTC", "04:00", "2028-03-01", "2028-03-01T04:00", "the day after 29 February"),
    _at("UTC", "00:00", "2027-01-01", "2027-01-01T00:00", "a year's end"),
    _at("UTC", "00:00", "1970-01-02", "1970-01-02T00:00", "the first day after the epoch"),
    _at("UTC", "00:00", "2999-12-31", "2999-12-31T00:00", "the last day that a record may name"),
    _at("Europe/London", "00:00", "2026-03-29", "2026-03-29T00:00", "GMT until 01:00 UTC"),
    _at("Europe/London", "01:30", "2026-03-29", "2026-03-29T01:00",
        "01:00 GMT becomes 02:00 BST: 01:30 is jumped over"),
    _at("Europe/London", "00:00", "2026-10-25", "2026-10-24T23:00", "BST until 01:00 UTC"),
    _at("Europe/London", "01:30", "2026-10-25", "2026-10-25T00:30", "01:30 comes twice; the first is BST"),
    _at("Europe/London", "04:00", "2026-10-25", "2026-10-25T04:00", "GMT again"),
    _at("America/Santiago", "00:00", "2026-09-06", "2026-09-06T04:00", "24:00 -04 becomes 01:00 -03: no midnight"),
    _at("America/Santiago", "00:30", "2026-09-06", "2026-09-06T04:00", "00:30 is jumped over with it"),
    _at("America/Santiago", "00:00", "2026-04-05", "2026-04-05T04:00",
        "24:00 -03 becomes 23:00 -04: 23:00 comes twice"),
    _at("Asia/Beirut", "00:00", "2026-03-29", "2026-03-28T22:00", "00:00 +02 becomes 01:00 +03: no midnight"),
    _at("Asia/Beirut", "00:00", "2026-10-25", "2026-10-24T22:00", "00:00 +03 becomes 23:00 +02"),
    _at("Pacific/Apia", "00:00", "2011-12-31", "2011-12-30T10:00", "from -10 to +14: there was no 30 December",
        "2011-12-29"),
    _at("Pacific/Apia", "04:00", "2011-12-31", "2011-12-30T14:00", "the day begins at 04:00 of the 31st, +14",
        "2011-12-30"),
    _at("Asia/Kathmandu", "00:00", "2026-06-01", "2026-05-31T18:15", "+05:45"),
    _at("Australia/Lord_Howe", "02:15", "2026-10-04", "2026-10-03T15:30", "02:00 +10:30 becomes 02:30 +11"),
    _at("Australia/Lord_Howe", "01:45", "2026-04-05", "2026-04-04T14:45", "02:00 +11 becomes 01:30 +10:30; the first"),
    _at("Pacific/Chatham", "00:00", "2026-06-01", "2026-05-31T11:15", "+12:45"),
    _at("Pacific/Chatham", "00:00", "2026-12-01", "2026-11-30T10:15", "+13:45 in summer"),
    _at("America/Sao_Paulo", "00:00", "2018-11-04", "2018-11-04T03:00", "00:00 -03 becomes 01:00 -02: no midnight"),
    _at("America/Sao_Paulo", "00:00", "2019-02-17", "2019-02-17T03:00", "24:00 -02 becomes 23:00 -03"),
    _at("Asia/Kolkata", "05:30", "2026-06-01", "2026-06-01T00:00", "+05:30"),
    _at("Pacific/Kiritimati", "00:00", "2026-06-01", "2026-05-31T10:00", "+14"),
    _at("Pacific/Pago_Pago", "00:00", "2026-06-01", "2026-06-01T11:00", "-11"),
)


@dataclass
class Worker:
    """A worker of its own on the shared ledger: what it was asked last, and every tag with what it was given for."""

    client: Any
    headers: dict[str, str]
    clock: "Clock"
    tags: dict[tuple[str, str], bytes]
    faults: list[str] = field(default_factory=list)

    def get(self, path: str) -> Any:
        answer = self.client.get(path, headers=self.headers)
        if answer.status_code >= 500:
            self.faults.append(f"{path} is answered {answer.status_code} at {self.clock.now}")
            return {}
        tag = answer.headers.get("ETag")
        if tag and self.tags.setdefault((path, tag), answer.data) != answer.data:
            self.faults.append(f"{path} has the tag {tag} for two answers")
        return answer.json

    def cost(self, dish: str) -> str:
        return str(self.get(f"/v1/dish-costs/{dish}").get("food_cost"))

    def write(self, method: str, path: str, body: Any) -> None:
        there = method == "PUT" and self.client.get(path, headers=self.headers).status_code == 200
        answer = self.client.open(path, method=method, json=body,
                                  headers=self.headers | ({"If-Match": "*"} if there else {}))
        if answer.status_code >= 300:
            self.faults.append(f"{method} {path}: {answer.status_code} {answer.text[:200]}")


@dataclass
class Clock:
    """A clock that stands where it is put."""

    now: datetime

    def __call__(self) -> datetime:
        return self.now


def clocks(run: Run) -> Verdict:
    """Cross every boundary; say what was wrong."""
    with sabotage.broken(run.sabotage):
        return _every_boundary_crossed(run)


def _every_boundary_crossed(run: Run) -> Verdict:
    faults: list[str] = []
    done = 0
    for number, one_after_another in enumerate(chains(BOUNDARIES[:run.cases])):
        with two_workers(run, number, one_after_another[0].begins - AHEAD) as (first, second):
            for boundary in one_after_another:
                if not run.in_time:
                    break
                done += 1
                told = [*crossed(first, second, boundary), *first.faults, *second.faults]
                first.faults, second.faults = [], []
                faults += [f"{boundary.zone} from {boundary.start}, {boundary.day} ({boundary.fact}): {each}"
                           for each in told]
    return Verdict(done, tuple(faults), {"zones": len({each.zone for each in BOUNDARIES})})


def chains(boundaries: Sequence[Boundary]) -> list[list[Boundary]]:
    """The boundaries in rows that one ledger can cross one after another: its day never goes back."""
    rows: list[list[Boundary]] = []
    for each in sorted(boundaries, key=lambda each: each.begins):
        fitting = next((row for row in rows if row[-1].begins + 2 * AHEAD <= each.begins), None)
        if fitting is None:
            rows.append(fitting := [])
        fitting.append(each)
    return rows


def crossed(first: Worker, second: Worker, at: Boundary) -> Iterator[str]:
    """What goes wrong as two workers cross a boundary, the second behind the first."""
    _kitchen(first, second, at)
    dish = f"plate-{at.day}"
    day_before = at.day_before or at.day - timedelta(days=1)
    for moment, cost, day in ((at.begins - TICK, "10.0000", day_before), (at.begins, "20.0000", at.day)):
        if moment >= at.begins:
            cursor = first.get("/v1/dish-costs/changes")["next_cursor"]
        first.clock.now, second.clock.now = moment, moment - BEHIND
        yield from _shown(first, dish, cost, day)
    if second.cost(dish) != "10.0000":
        yield "the worker that is behind shows the new price before its clock has reached it, with nothing written"
    told = first.get(f"/v1/dish-costs/changes?after={cursor}")
    if [row["dish"] for row in told.get("data", [])] != [dish]:
        yield f"the feed tells {told.get('data')} as the day begins"
    for passed in range(1, QUARTERS + 1):
        first.clock.now = at.begins + passed * QUARTER
        yield from _shown(first, dish, "20.0000", at.day)
    first.clock.now = at.begins
    yield from _after_a_write(first, second, at, told.get("next_cursor"))


def _shown(worker: Worker, dish: str, cost: str, day: date) -> Iterator[str]:
    """What is wrong with what a worker shows by its clock."""
    told = worker.get(f"/v1/dish-costs/{dish}")
    if (told.get("food_cost"), told.get("as_of")) != (cost, day.isoformat()):
        yield (f"at {worker.clock.now:%FT%T} the cost is {told.get('food_cost')} as of {told.get('as_of')}, not "
               f"{cost}, {day}")


def _after_a_write(first: Worker, second: Worker, at: Boundary, cursor: str) -> Iterator[str]:
    """A write dates the ledger: no clock takes that back."""
    dish = f"plate-{at.day}"
    first.write("PUT", "/v1/suppliers/other", SUPPLIER | {"note": str(at)[:200]})
    if second.cost(dish) != "20.0000":
        yield "the worker that is behind shows the old price after a write on the new day"
    second.write("PUT", "/v1/suppliers/third", SUPPLIER | {"note": str(at)[:200]})
    for each in (first, second):
        each.clock.now = at.begins - timedelta(hours=1)
        if each.cost(dish) != "20.0000":
            yield "the old price is back once the clock is set back an hour"
        each.write("PUT", "/v1/suppliers/other", SUPPLIER | {"note": f"{at.zone} {each is first}"})
    if first.get(f"/v1/dish-costs/changes?after={cursor}").get("data"):
        yield "the feed tells the change again"
    days = [row["on_date"] for row in first.get("/v1/changes?limit=1000").get("data", []) if "on_date" in row]
    if days != sorted(days) or not days or days[-1] != at.day.isoformat():
        yield f"the days of the revisions are {days}"


@contextmanager
def two_workers(run: Run, number: int, begins: datetime) -> Iterator[tuple[Worker, Worker]]:
    """Two workers on a ledger of their own, the second's clock behind."""
    url = _fresh(run, number)
    tags: dict[tuple[str, str], bytes] = {}
    made: list[tuple[Worker, Any]] = []
    secret = ""
    for behind in (timedelta(0), BEHIND):
        engines, clock = open_engines(url), Clock(begins - behind)
        ledger = SqlLedger(engines, clock)
        secret = secret or create_key(ledger, "admin", ["admin"], None, BUILDER).document["key"]
        client = wiring.app_on(ledger, Settings(database_url=url)).test_client()
        made.append((Worker(client, {"Authorization": f"Bearer {secret}"}, clock, tags), engines))
    first, second = (worker for worker, _ in made)
    try:
        yield first, second
    finally:
        for _, engines in made:
            engines.dispose()


def _kitchen(first: Worker, second: Worker, at: Boundary) -> None:
    """A day or so before the boundary: the zone, and a dish of one ingredient whose price rises on the day."""
    first.clock.now, second.clock.now = at.begins - AHEAD, at.begins - AHEAD - BEHIND
    item, dish = f"leg-{at.day}", f"/v1/dishes/plate-{at.day}"
    old = {"supplier": "mill", "amount": "10", "pack_quantity": "1", "pack_unit": "kg",
           "effective_from": (at.day - timedelta(days=20)).isoformat()}
    starts = at.day if at.day_before is None or at.start != "00:00" else at.day - timedelta(days=1)
    for method, path, body in (
            ("PUT", "/v1/settings", {"currency": "GBP", "time_zone": at.zone, "business_day_start": at.start}),
            ("PUT", "/v1/suppliers/mill", SUPPLIER), ("PUT", f"/v1/ingredients/{item}", INGREDIENT),
            ("POST", f"/v1/ingredients/{item}/prices", old),
            ("PUT", dish, {"name": "Plate", "portions": "1", "menu_price": "60",
                                         "lines": [a_use(f"ingredient {item}")]}),
            ("POST", f"/v1/ingredients/{item}/prices", old | {"amount": "20", "effective_from": starts.isoformat()})):
        first.write(method, path, body)


def _fresh(run: Run, number: int) -> str:
    """A migrated, empty ledger like the run's."""
    if run.server is not None:
        return str(run.server.create(run.database_url.split("@/")[1].split("?")[0]))
    copy = run.folder / f"boundary-{number}.db"
    shutil.copyfile(Path(run.database_url.removeprefix("sqlite:///")), copy)
    return f"sqlite:///{copy}"


PROGRAMME = Programme(
    name="clocks", row="T34", promise="Right figures on each side of each boundary of a day; no day goes back",
    unit="boundaries", short=len(BOUNDARIES), long=len(BOUNDARIES), run=clocks,
    sabotages=("days_in_utc", "days_by_the_wall_clock", "days_go_back"))
