"""T04: SQLite and PostgreSQL answer alike, byte for byte: one random sequence of requests on both, in process.

Both ledgers have the same keys, the same secret for cursors and the same clock, so that whole answers are the same:
status, header fields, tags and bodies. Only what is drawn by chance anew is replaced first (the text of a key, the id
of a feed link or key). Requests write and read every list, at days and revisions of the past too, follow cursors, ask
with tags, and are often wrong. A case is a request.
"""

import re
from collections import Counter
from contextlib import ExitStack
from datetime import UTC, date, datetime, timedelta
from typing import Any

from flask.testing import FlaskClient
from sqlalchemy import select, update
from werkzeug.test import TestResponse

from service import wiring
from service.persistence.engines import Engines, open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.persistence.tables.chain import signing_secret
from service.settings import Settings
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.sabotage import broken
from tests.rest.example_making import KEYS, REQUEST_ID, make_keys
from tests.stories.random_writes import DEMO, Writer

BEGUN = datetime(2026, 11, 25, 10, tzinfo=UTC)
LISTS = ("suppliers", "ingredients", "breakdowns", "recipes", "dishes", "prices", "dish-costs", "recipe-costs",
         "cut-costs", "changes", "keys", "margin-alerts", "feeds", "webhooks", "price-proposals", "allergens",
         "settings", "sales", "price-movements?from=2026-11-20&to=2026-11-27")
DRAWN = re.compile(rb"seam_[0-9a-f]{8}_[\w-]+|[\"/][0-9a-f]{8}[\"/?]|/feeds/[\w-]{20,}")
"""What is drawn by chance: the text and the id of a key; the token of a link."""
_UNTIL_FAULTS = 20


class Asker(Writer):
    """Chooses requests, by one chance; what an answer showed (ids, tags, cursors) is used later."""

    def __init__(self, seed: int) -> None:
        super().__init__("", "", seed, BEGUN.date())
        self.ideas = self._ideas()
        self.tags: list[tuple[str, str]] = []
        self.cursors: list[str] = []
        self.revision = 0

    def next(self) -> tuple[str, str, Any, dict[str, str]]:
        """Method, path, body, header fields."""
        kind = self.chance.choices(("write", "read", "tag", "cursor", "wrong"), (45, 35, 8, 7, 5))[0]
        if kind == "write":
            method, path, body = next(self.ideas)
            headers = {"Idempotency-Key": f'"{self.chance.getrandbits(32):x}"'} if method == "POST" else {
                "If-Match": self.chance.choice(("*", "*", "*", '"3"'))}
            return method, path, body, headers
        if kind == "tag" and self.tags:
            path, tag = self.chance.choice(self.tags)
            return "GET", path, None, {"If-None-Match": tag}
        if kind == "cursor" and self.cursors:
            return "GET", self.chance.choice(self.cursors), None, {}
        return "GET", self._wrong() if kind == "wrong" else self._read(), None, {}

    def learn(self, method: str, path: str, answer: TestResponse) -> None:
        """Remember what an answer showed."""
        if path.endswith("/prices") and answer.status_code == 201:
            self.posted.append((path, answer.json["id"]))
        if method == "GET" and answer.status_code == 200 and answer.is_json:
            if "ETag" in answer.headers:
                self.tags = [*self.tags[-20:], (path, answer.headers["ETag"])]
            shown = answer.json or {}
            self.revision = max(self.revision, shown.get("revision") or 0)
            if shown.get("next_cursor"):
                plain = re.sub(r"[?&]cursor=[^&]*", "", path)
                following = f"{plain}{'&' if '?' in plain else '?'}cursor={shown['next_cursor']}"
                self.cursors = [*self.cursors[-20:], following]

    def _read(self) -> str:
        path = f"/v1/{self.chance.choice(LISTS)}"
        if self.chance.random() < 0.3:
            put = self.chance.choice([asked.path for asked in DEMO if asked.method == "PUT"])
            path = self.chance.choice((put, put.replace("/v1/dishes", "/v1/dish-costs"), f"{put}/history"))
        asked = [f"limit={self.chance.randint(1, 9)}"] if self.chance.random() < 0.4 else []
        asked += [f"as_of={self._day()}"] if self.chance.random() < 0.4 else []
        asked += [f"known_at={self.chance.randint(0, self.revision + 1)}"] if self.chance.random() < 0.3 else []
        return path + (("&" if "?" in path else "?") + "&".join(asked) if asked else "")

    def _day(self) -> date:
        return self.today + timedelta(days=self.chance.randint(-40, 20))

    def _wrong(self) -> str:
        return self.chance.choice(("/v1/dishes/no-such", "/v1/dish-costs?as_of=2026-02-30", "/v1/dishes?limit=0",
                                   "/v1/prices?colour=red", "/v1/nothing", "/v1/dish-costs?known_at=999999",
                                   "/v1/changes?cursor=AAAA", "/v1/ingredients/UPPER"))


def run(run: Run) -> Verdict:
    """Ask both, and compare."""
    with ExitStack() as stack:
        url = f"sqlite:///{run.folder}/beside.db"
        migrate(url)
        engines = [_opened(stack, url), _opened(stack, run.database_url)]
        now = [BEGUN]
        clients = [_client(one, now) for one in engines]
        _share_secret(*engines)
        if run.sabotage:
            stack.enter_context(broken(run.sabotage))
        return _compare(run, clients, now)


def _compare(run: Run, clients: list[FlaskClient], now: list[datetime]) -> Verdict:
    asker, faults, statuses, asked = Asker(run.seed), [], Counter[int](), 0
    loading = [(one.method, one.path, one.body, {}) for one in DEMO]
    while asked < run.cases and len(faults) < _UNTIL_FAULTS and run.in_time:
        method, path, body, headers = loading.pop(0) if loading else asker.next()
        answers = [_answer(client, method, path, body, headers) for client in clients]
        told = [_told(answer) for answer in answers]
        if told[0] != told[1]:
            faults.append(f"{asked}: {method} {path} {_difference(*told)}")
        asker.learn(method, path, answers[0])
        statuses[answers[0].status_code] += 1
        asked += 1
        now[0] += timedelta(seconds=asker.chance.choice((1, 1, 1, 61, 7200)) if asked % 20 == 0 else 1)
        asker.today = now[0].date()
    if sum(count for status, count in statuses.items() if status < 300) * 4 < asked:
        faults.append(f"hardly anything was taken or shown, so that next to nothing was compared: {statuses}")
    faults += [f"both answered {count} times with {status}" for status, count in statuses.items() if status >= 500]
    return Verdict(asked, tuple(faults), {"answers by status": dict(sorted(statuses.items())), "day": str(asker.today)})


def _answer(client: FlaskClient, method: str, path: str, body: Any, headers: dict[str, str]) -> TestResponse:
    """What comes; what is worked out for two seconds at a time is asked for until all of it is there."""
    while True:
        answer = client.open(path, method=method, json=body, headers=_headers(headers))
        if not answer.is_json or (answer.json or {}).get("up_to_date") is not False:
            return answer


def _told(answer: TestResponse) -> tuple[int, list[tuple[str, str]], bytes]:
    return answer.status_code, sorted(answer.headers.items()), DRAWN.sub(b"(drawn)", answer.data)


def _difference(one: Any, other: Any) -> str:
    """Where two answers begin to differ, with what stands around it."""
    this, that = f"{one}", f"{other}"
    at = next((n for n, (a, b) in enumerate(zip(this, that, strict=False)) if a != b), 0)
    around = slice(max(0, at - 60), at + 60)
    return f"{this[around]} / {that[around]}"


def _headers(more: dict[str, str]) -> dict[str, str]:
    return {"Authorization": f"Bearer {next(iter(KEYS))}", "X-Request-ID": REQUEST_ID, **more}


def _opened(stack: ExitStack, url: str) -> Engines:
    engines = open_engines(url)
    stack.callback(engines.dispose)
    return engines


def _client(engines: Engines, now: list[datetime]) -> FlaskClient:
    def clock() -> datetime:
        return now[0]

    ledger = SqlLedger(engines, clock)
    make_keys(ledger)
    return wiring.app_on(ledger, Settings(), lambda _url: None, clock).test_client()


def _share_secret(one: Engines, other: Engines) -> None:
    with one.read() as connection:
        secret = connection.scalar(select(signing_secret.c.secret))
    with other.write() as connection:
        connection.execute(update(signing_secret).values(secret=secret))


PROGRAMME = Programme("alike", "T04", "both engines answer alike", "requests", 200, 20_000, run,
                      engines=("postgresql",), sabotages=("last_digits",))
