"""Scopes: every route with every kind of key, and what may not be opened is not (T12; API1, API5).

The whole product: each route of the application, by each of its methods, asked with a key of each scope, with none, a
wrong, a revoked and an expired one. What must open is the table written by hand (scope_table.py), and not what the code
says of itself. Refused means 401 where nothing was proven, 403 where the key is good; and nothing was recorded. Whether
a code is there or not makes no difference to who may not ask: each refusal is asked for what nobody recorded and for
what the ledger holds, and both are told alike but for the path and the request's own id. Sites and tenants do not
apply: one deployment is one organisation.
"""

import re
from collections.abc import Callable, Iterator

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service import operating, wiring
from service.persistence.ledger import SqlLedger
from service.settings import Settings
from service.use_cases.keys import create_key, revoke_key
from service.use_cases.ports import Asker
from tests.reliability.keys import expired_key
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.sabotage import broken
from tests.reliability.scope_table import OPENS, SCOPE_OF
from tests.reliability.small_ledger import fill_with_all

ASKER = Asker("cli", "scopes", "scopes")
NOT_THERE = "nobody"
OF_THE_REQUEST = ("instance", "request_id", "X-Request-ID", "Content-Length")
PROPOSED = "/v1/price-proposals?supplier=fenmoor&effective_from=2027-01-04"
A_LIST = b"code,name,price,unit\n10-2345,Topside,14.20,kg\n"
NOBODY = ("no key", "a wrong key", "a revoked key", "an expired key", "a token")


def run(told: Run) -> Verdict:
    """Ask every route with every key."""
    settings = Settings(database_url=told.database_url, requests_per_minute=0)
    with operating.opened_ledger(settings) as ledger, broken(told.sabotage):
        app = wiring.app_on(ledger, settings)
        fill_with_all(ledger._engines)  # it revokes the first key that it finds
        keys, routes = _keys(ledger), sorted(_routes(app))
        there = _there(ledger, app.test_client(), keys["admin"])
        asked = [route for route in routes if route in SCOPE_OF][:told.cases]
        faults = [*_differences(set(routes)), *(fault for method, path in asked for fault in _asked(
            app.test_client(), lambda: ledger.head().revision, method, path, keys, there))]
        faults += _not_there(app.test_client(), keys["admin"], there)
    return Verdict(len(asked), tuple(faults), {"kinds of key": len(keys), "requests": len(asked) * len(keys)})


def _routes(app: Flask) -> Iterator[tuple[str, str]]:
    for rule in app.url_map.iter_rules():
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}:
            yield method, re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", rule.rule)


def _differences(routes: set[tuple[str, str]]) -> Iterator[str]:
    for method, path in sorted(routes - SCOPE_OF.keys()):
        yield f"{method} {path} is in no table: decide who may call it"
    for method, path in sorted(SCOPE_OF.keys() - routes):
        yield f"{method} {path} is in the table, and is not served"


def _keys(ledger: SqlLedger) -> dict[str, str]:
    """A key of each scope, and what opens nothing; by what it is called."""
    def made(name: str, scopes: tuple[str, ...]) -> str:
        return str(create_key(ledger, name, scopes, None, ASKER).document["key"])

    keys = {scope: made(scope, (scope,)) for scope in OPENS}
    revoked, expired = made("revoked", ("admin",)), expired_key(ledger)
    revoke_key(ledger, next(key.id for key in ledger.every_key() if key.name == "revoked"), ASKER)
    wrong = keys["admin"][:-1] + ("A" if keys["admin"][-1] != "A" else "E")
    return keys | dict(zip(NOBODY, ("", wrong, revoked, expired, "e30.e30.e30"), strict=True))


def _there(ledger: SqlLedger, client: FlaskClient, admin: str) -> dict[str, str]:
    """What the ledger holds, by the name that a path has for it: by the resource, where that is a bare code."""
    kitchen, by_key = ledger.kitchen(ledger.head().revision), {"Authorization": f"Bearer {admin}"}
    webhook = ledger.webhooks.every()[0].id
    delivery = client.post(f"/v1/webhooks/{webhook}/ping", headers=by_key).get_json()["id"]
    proposal = client.post(PROPOSED, data=A_LIST, content_type="text/csv",
                           headers=by_key).get_json()["id"]
    return {"ingredients": "beef-topside", "breakdowns": next(iter(kitchen.breakdowns)), "recipes": "jus",
            "recipe-costs": "jus", "dishes": "plate", "dish-costs": "plate", "cut-costs": "topside-cap",
            "primals": "beef-topside", "suppliers": "fenmoor", "item": "10-2345", "proposal_id": proposal,
            "price_id": kitchen.prices["beef-topside"][0].id, "key_id": ledger.every_key()[0].id,
            "webhook_id": webhook, "delivery_id": delivery, "feed_id": ledger.feeds.every()[0].id,
            "alert_id": ledger.margin_alerts.open()[0].id, "business_date": "2026-03-01",
            "test_id": next(iter(kitchen.yield_tests.values()))[0].id}


def _asked(client: FlaskClient, head: Callable[[], int], method: str, path: str, keys: dict[str, str],
           there: dict[str, str]) -> Iterator[str]:
    needed, nowhere, where, before = SCOPE_OF[method, path], _path_of(path, {}), _path_of(path, there), head()
    opened = {name for name in keys if _opens(needed, name)}
    for name, key in sorted(keys.items(), key=lambda each: each[0] in opened):
        if name in opened and before is not None:
            if head() != before:
                yield f"{method} {path}: something was recorded for who may not"
            before = None
        for asked in ("GET", "HEAD") if method == "GET" else (method,):
            answer = _answer(client, asked, nowhere, key)
            status = answer.status_code
            refused = status == 403 or (status == 401 and needed != "open")  # who signs in by a wrong key is 401 too
            if status >= 500 or (refused if name in opened else status != (401 if name in NOBODY else 403)):
                yield f"{asked} {path} with {name}: {status}, and it needs {needed}"
            if name not in opened and where != nowhere:
                told = _told(_answer(client, asked, where, key))
                if told != _told(answer):
                    yield f"{asked} {path} with {name}: what is there is told as {told}, else {_told(answer)}"


def _answer(client: FlaskClient, method: str, path: str, key: str) -> TestResponse:
    return client.open(path, method=method, headers={"Authorization": f"Bearer {key}"} if key else {},
                       json={} if method in ("PUT", "POST") and path != "/session/end" else None)


def _told(answer: TestResponse) -> tuple[object, ...]:
    """A refusal without what is of its path and its request alone."""
    body = answer.get_json(silent=True) or {"text": answer.text.replace(answer.request.path, "")}
    return (answer.status_code, {name: each for name, each in body.items() if name not in OF_THE_REQUEST},
            {name: each for name, each in answer.headers.items() if name not in OF_THE_REQUEST})


def _path_of(path: str, there: dict[str, str]) -> str:
    """A path that leads to what is there, as far as the ledger holds such a thing."""
    def named(found: re.Match[str]) -> str:
        resource = path[:found.start()].rstrip("/").rpartition("/")[2]
        return there.get(resource if found[1] == "code" else found[1], NOT_THERE)

    return re.sub(r"\{(\w+)\}", named, path)


def _not_there(client: FlaskClient, admin: str, there: dict[str, str]) -> Iterator[str]:
    """What this part takes for there is: else it would compare one absence with another."""
    for method, path in SCOPE_OF:
        where = _path_of(path, there)
        if method == "GET" and where != path and NOT_THERE not in where and SCOPE_OF[method, path] != "open":
            status = client.get(where, headers={"Authorization": f"Bearer {admin}"}).status_code
            if status == 404:
                yield f"{path} is taken for there, and {where} is answered {status}"


def _opens(needed: str, name: str) -> bool:
    """Whether who has this key may ask. What is open to all does not even look at a key."""
    return needed == "open" or (name not in NOBODY and needed in OPENS[name])


PROGRAMME = Programme(
    "scopes", "T12", "only the cells of the table open", "routes", 1_000, 1_000, run, engines=("sqlite",),
    sabotages=("no_scope_check", "one_scope_changed"))
