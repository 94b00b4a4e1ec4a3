"""T25: the n-th call to the database fails, once or for good, n from 1 until a write goes through untouched.

The application is asked in process, and what fails is its own next statement or commit: of a request that asks who
calls, reads the kitchen, decides and writes. However far it came, it is answered with a documented problem (503, 507),
or as if nothing had been where what failed does not matter; the head has moved exactly where the answer says so; no
connection stays out of its pool; and a key that cannot be looked up opens nothing. Not counted are rows that PostgreSQL
copies in: they pass by the events that the failures hang on.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import product
from typing import Any

import psycopg
from sqlalchemy import event
from sqlalchemy.exc import OperationalError

from service.persistence import sqlite_engine
from service.persistence.engines import Engines, open_engines
from service.persistence.whole import what_is_wrong
from tests.reliability.asked_in_process import InProcess, asked_in_process
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.small_ledger import fill

PRICE = {"supplier": "fenmoor", "pack_quantity": "1", "pack_unit": "kg"}
Asked = tuple[str, str, dict[str, Any], dict[str, str]]


def _routes(number: int) -> list[Asked]:
    """A request for each kind of write, another one each time."""
    return [
        ("POST", "/v1/ingredients/beef-topside/prices", PRICE | {"amount": f"{10 + number % 900}.25"}, {}),
        ("PUT", "/v1/suppliers/fenmoor", {"name": "Fenmoor", "note": f"note {number}"}, {"if_match": "*"}),
        ("POST", "/v1/keys", {"name": f"till {number}", "scopes": ["costs:read"]}, {}),
        ("PUT", "/v1/dishes/plate", {"name": f"Plate {number}", "portions": "1", "lines": [
            {"cut": "topside-cap", "quantity": "1", "unit": "kg"}]}, {"if_match": "*"}),
        ("POST", "/v1/ingredients/beef-topside/prices", PRICE | {"amount": f"{10 + number % 900}.75"},
         {"idempotency_key": f"key-of-{number:08}"}),
    ]


@dataclass
class _Failing:
    """Counts what an application asks of its database, and fails from a call on: once, or for good."""

    engines: Engines
    at: int = 0
    for_good: bool = False
    count: int = 0
    failed: int = 0

    def begin(self, at: int, for_good: bool) -> None:
        self.at, self.for_good, self.count, self.failed = at, for_good, 0, 0

    def end(self) -> None:
        """Nothing fails from now on."""
        self.at = 0

    def call(self, *_: Any) -> None:
        self.count += 1
        if self.at and (self.count == self.at or (self.for_good and self.count > self.at)):
            self.failed += 1
            raise self.error()

    def error(self) -> Exception:
        if self.engines.is_sqlite:
            return OperationalError("", None, sqlite_engine.driver().OperationalError("disk I/O error"))
        return OperationalError("", None, psycopg.OperationalError("the connection is lost"))

    @contextmanager
    def watching(self) -> Iterator[None]:
        quick: Any = self.engines.quick
        ask = quick._ask

        def quick_ask(connection: Any, *arguments: Any) -> Any:
            try:
                self.call()
            except OperationalError as error:
                connection.close()  # as it does with one whose statement fails
                raise error.orig from error  # type: ignore[misc]
            return ask(connection, *arguments)

        events = [(engine, name) for engine in {self.engines.writing, self.engines.reading, self.engines.passing}
                  for name in ("before_cursor_execute", "commit")]
        for engine, name in events:
            event.listen(engine, name, self.call)
        quick._ask = quick_ask
        try:
            yield
        finally:
            quick._ask = ask
            for engine, name in events:
                event.remove(engine, name, self.call)


def run(run: Run) -> Verdict:
    """Fail each call of each write, once and for good."""
    faults, done, calls = list[str](), 0, list[int]()
    engines = open_engines(run.database_url)
    fill(engines)
    with asked_in_process(run.database_url, run.sabotage) as app:
        failing = _Failing(app.client.application.extensions["seamcost"].positions.ledger._engines)
        with failing.watching():
            for route, for_good in product(range(len(_routes(0))), (False, True)):
                at, untouched = 0, False
                while not untouched and done < run.cases and run.in_time:
                    at, done = at + 1, done + 1
                    untouched, found = _one(app, failing, _routes(done)[route], at, for_good)
                    faults += found
                calls += [at - 1] * untouched
    faults += what_is_wrong(engines)
    engines.dispose()
    return Verdict(done, tuple(faults[:20]), {"calls of each write that was tried throughout": calls})


def _one(app: InProcess, failing: _Failing, asked: Asked, at: int, for_good: bool) -> tuple[bool, list[str]]:
    """One write of which a call fails: whether it came to its end before that call, and what was wrong."""
    method, path, body, headers = asked
    before = _head(failing)
    failing.begin(at, for_good)
    answer = app.ask(method, path, body, **headers)
    untouched = not failing.failed
    stranger = None if not for_good else _stranger(app, path, method, body)
    failing.end()
    what = f"{method} {path}, call {at} fails {'for good' if for_good else 'once'}"
    faults = []
    moved = _head(failing) != before
    if answer.status_code not in (200, 201, 503, 507) or (untouched and answer.status_code >= 400):
        faults.append(f"{what}: answered {answer.status_code}: {answer.text[:300]}")
    if moved != (answer.status_code < 400):
        faults.append(f"{what}: answered {answer.status_code}, and the head has {'' if moved else 'not '}moved")
    if stranger is not None and stranger not in (401, 503):
        faults.append(f"{what}: a stranger is answered {stranger}")
    out = [_checked_out(engine) for engine in (
        failing.engines.writing, failing.engines.reading, failing.engines.passing)]
    if any(out):
        faults.append(f"{what}: connections stayed out of their pools: {out}")
    return untouched, faults


def _stranger(app: InProcess, path: str, method: str, body: dict[str, Any]) -> int:
    asked: Callable[..., Any] = app.client.open
    answer = asked(path, method=method, json=body, headers={"Authorization": "Bearer seam_00000000_" + "x" * 43,
                                                            "If-Match": "*"})
    return int(answer.status_code)


def _head(failing: _Failing) -> int:
    engines = open_engines(failing.engines.url.render_as_string(False), pool_size=1)
    try:
        with engines.read() as connection:
            return int(connection.exec_driver_sql("SELECT revision FROM ledger_head").scalar() or 0)
    finally:
        engines.dispose()


def _checked_out(engine: Any) -> int:
    return int(engine.pool.checkedout())


PROGRAMME = Programme(
    "nth_failure", "T25", "whichever call to the database fails, the answer says so, and nothing is half done",
    "failures", 150, 3_000, run, sabotages=("half_commit", "refused_commits_stay_open"))
