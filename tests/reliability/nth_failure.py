"""T25: the n-th call to the database fails, once or for good, n from 1 until a write goes through untouched.

The application is asked in process, and what fails is its own next statement or commit: of a request that asks who
calls, reads the kitchen, decides and writes. However far it came, it is answered with a documented problem (503, 507),
or as if nothing had been where what failed does not matter; the ledger has moved exactly where the answer says so, or
says that it may have (outcome-unknown); no connection stays out of its pool; and a key that cannot be looked up opens
nothing. Short: five writes, each another one every time, and the head is looked at. Long: every write that the API
document shows accepted too, each on the ledger that its example is told of, and no row of any table may differ after a
refusal. Not counted are rows that PostgreSQL copies in: they pass by the events that the failures hang on.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import product
from typing import Any

from flask.testing import FlaskClient

from service.persistence.engines import open_engines
from service.persistence.whole import what_is_wrong
from tests.reliability.asked_in_process import InProcess, asked_in_process
from tests.reliability.example_writes import ExampleWrite, example_writes
from tests.reliability.failing_calls import Failing, Looking
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.small_ledger import fill
from tests.rest.api_document import VALIDATOR

PRICE = {"supplier": "fenmoor", "pack_quantity": "1", "pack_unit": "kg"}
UNAVAILABLE = (503, 507)
STRANGER = {"Authorization": "Bearer seam_00000000_" + "x" * 43}
ROUTES = {
    "a price": lambda number: ("POST", "/v1/ingredients/beef-topside/prices", PRICE | {
        "amount": f"{10 + number % 900}.25"}, {}),
    "a supplier": lambda number: ("PUT", "/v1/suppliers/fenmoor", {"name": "Fenmoor", "note": f"note {number}"},
                                  {"If-Match": "*"}),
    "a key": lambda number: ("POST", "/v1/keys", {"name": f"till {number}", "scopes": ["costs:read"]}, {}),
    "a dish": lambda number: ("PUT", "/v1/dishes/plate", {"name": f"Plate {number}", "portions": "1", "lines": [
        {"cut": "topside-cap", "quantity": "1", "unit": "kg"}]}, {"If-Match": "*"}),
    "a price with a key of its own": lambda number: ("POST", "/v1/ingredients/beef-topside/prices", PRICE | {
        "amount": f"{10 + number % 900}.75"}, {"Idempotency-Key": f"key-of-{number:08}"})}
"""A request for each kind of write, another one each time."""
HOW = {False: "once", True: "for good"}


@dataclass
class _Quest:
    """One run: what was done and tried throughout, and what was wrong."""

    run: Run
    done: int = 0

    def __post_init__(self) -> None:
        self.faults: list[str] = []
        self.calls: dict[str, int] = {}

    @property
    def goes_on(self) -> bool:
        return self.done < self.run.cases and self.run.in_time


@dataclass(frozen=True)
class _Asked:
    """A write: the arguments of a client, what it is answered when all is well, and whether the ledger moves then."""

    what: str
    arguments: Mapping[str, Any]
    accepted: tuple[int, ...] = (200, 201)
    moves: bool = True


def run(run: Run) -> Verdict:
    """Fail each call of each write, once and for good."""
    quest, engines = _Quest(run), open_engines(run.database_url)
    fill(engines)
    with asked_in_process(run.database_url, run.sabotage) as app:
        failing, looking = _failing(app.client), Looking(engines)
        with failing.watching():
            for name, for_good in product(ROUTES, HOW):
                _all_calls_of(quest, app, name, failing, looking, for_good)
        looking.close()
    quest.faults += what_is_wrong(engines)
    engines.dispose()
    if run.cases > PROGRAMME.short:
        for write in example_writes(run):
            for for_good in HOW:
                _all_calls_of_example(quest, write, for_good)
            if not quest.goes_on:
                break
    return Verdict(quest.done, tuple(quest.faults[:20]), {
        "calls of each write that was tried throughout": quest.calls})


def _failing(client: FlaskClient) -> Failing:
    return Failing(client.application.extensions["seamcost"].positions.ledger._engines)


def _all_calls_of(quest: _Quest, app: InProcess, name: str, failing: Failing, looking: Looking, for_good: bool) -> None:
    """One of the routes, until it goes through untouched."""
    at, untouched = 0, False
    while not untouched and quest.goes_on:
        at, quest.done = at + 1, quest.done + 1
        method, path, body, headers = ROUTES[name](quest.done)
        asked = _Asked(f"{method} {path}", {"method": method, "path": path, "json": body, "headers": {
            "Authorization": f"Bearer {app.key}", **headers}})
        untouched, _ = _one(quest, app.client, failing, looking.head, asked, at, for_good)
    if untouched:
        quest.calls[f"{name}, {HOW[for_good]}"] = at - 1


def _all_calls_of_example(quest: _Quest, write: ExampleWrite, for_good: bool) -> None:
    """An example, until it goes through untouched: on a fresh copy of its ledger whenever it went through."""
    asked = _Asked(write.name, write.asked, (write.status,), _moves(write))
    at, untouched = 0, False
    while not untouched and quest.goes_on:
        with write.fresh() as client:
            failing, looking = _failing(client), Looking(_failing(client).engines)
            _warm(client)
            with failing.watching():
                spent = False
                while not spent and quest.goes_on:
                    at, quest.done = at + 1, quest.done + 1
                    untouched, spent = _one(quest, client, failing, looking.rows, asked, at, for_good)
            looking.close()
    if untouched:
        quest.calls[f"{write.name}, {HOW[for_good]}"] = at - 1


def _moves(write: ExampleWrite) -> bool:
    """Whether its ledger moves when nothing fails."""
    with write.fresh() as client:
        looking = Looking(_failing(client).engines)
        before = looking.rows()
        answer = client.open(**write.asked)
        assert answer.status_code == write.status, answer.text
        moves = looking.rows() != before
        looking.close()
        return moves


def _warm(client: FlaskClient) -> None:
    """Have the application load its kitchen: what is left of the calls is then the same each time."""
    ledger = client.application.extensions["seamcost"].positions.ledger
    ledger.kitchen(ledger.head().revision)


def _one(quest: _Quest, client: FlaskClient, failing: Failing, look: Callable[[], Any], asked: _Asked, at: int,
         for_good: bool) -> tuple[bool, bool]:
    """One write of which a call fails: whether it came to its end before that call, and whether it moved the ledger or
    may have, so that it cannot be asked again."""
    before = look()
    failing.begin(at, for_good)
    answer = client.open(**asked.arguments)
    untouched = not failing.failed
    stranger = client.open(**asked.arguments | {"headers": asked.arguments["headers"] | STRANGER}) if for_good else None
    failing.end()
    what = f"{asked.what}, call {at} fails {HOW[for_good]}"
    went_through, moved = answer.status_code in asked.accepted, look() != before
    if not went_through and (untouched or answer.status_code not in UNAVAILABLE):
        quest.faults.append(f"{what}: answered {answer.status_code}: {answer.text[:300]}")
    if moved != (went_through and asked.moves) and not (moved and _says_that_it_may_be(answer)):
        quest.faults.append(f"{what}: answered {answer.status_code}, and the ledger has {'' if moved else 'not '}moved")
    if stranger is not None and stranger.status_code not in (401, 503):
        quest.faults.append(f"{what}: a stranger is answered {stranger.status_code}")
    if any(out := failing.out()):
        quest.faults.append(f"{what}: connections stayed out of their pools: {out}")
    quest.faults += [f"{what}: {fault}" for each in (answer, stranger) if (fault := _undocumented(asked, each))]
    return untouched, went_through or moved


def _says_that_it_may_be(answer: Any) -> bool:
    """Whether it says that what was asked may be recorded: it was, and what is shown of it could not be read."""
    return answer.status_code == 503 and answer.get_json()["type"].endswith("/outcome-unknown")


def _undocumented(asked: _Asked, answer: Any) -> str:
    """How a refusal is not as the API document says."""
    if answer is None or answer.status_code < 400:
        return ""
    method, path = asked.arguments["method"], asked.arguments["path"].partition("?")[0]
    try:
        VALIDATOR.check_answer(method, path, answer.status_code, answer.content_type, answer.data)
    except AssertionError as fault:
        return str(fault)
    return ""


PROGRAMME = Programme(
    "nth_failure", "T25", "whichever call to the database fails, the answer says so, and nothing is half done",
    "failures", 150, 3_000, run, sabotages=("half_commit", "refused_commits_stay_open"))
