"""Scopes: every route with every kind of key, and what may not be opened is not (T12; API1, API5).

The whole product: each route of the application, by each of its methods, asked with a key of each scope, with none, a
wrong, a revoked and an expired one. What must open is the table written by hand (scope_table.py), and not what the code
says of itself. Refused means 401 where nothing was proven, 403 where the key is good; and nothing was recorded. Whether
a code is there or not makes no difference to who may not ask. Sites and tenants do not apply: one deployment is one
organisation.
"""

import re
from collections.abc import Callable, Iterator

from flask import Flask
from flask.testing import FlaskClient

from service import wiring
from service.persistence.ledger import SqlLedger
from service.settings import Settings
from service.use_cases.keys import create_key, revoke_key
from service.use_cases.ports import Asker
from tests.reliability.keys import expired_key
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.sabotage import broken
from tests.reliability.scope_table import OPENS, SCOPE_OF

ASKER = Asker("cli", "scopes", "scopes")
NOBODY = ("no key", "a wrong key", "a revoked key", "an expired key", "a token")


def run(told: Run) -> Verdict:
    """Ask every route with every key."""
    settings = Settings(database_url=told.database_url, requests_per_minute=0)
    with wiring.opened_ledger(settings) as ledger, broken(told.sabotage):
        app = wiring.app_on(ledger, settings)
        keys, routes = _keys(ledger), sorted(_routes(app))
        asked = [route for route in routes if route in SCOPE_OF][:told.cases]
        faults = [*_differences(set(routes)), *(fault for method, path in asked for fault in _asked(
            app.test_client(), lambda: ledger.head().revision, method, path, keys))]
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


def _asked(client: FlaskClient, head: Callable[[], int], method: str, path: str, keys: dict[str, str]
           ) -> Iterator[str]:
    needed, where, before = SCOPE_OF[method, path], re.sub(r"\{\w+\}", "nobody", path), head()
    opened = {name for name in keys if _opens(needed, name)}
    for name, key in sorted(keys.items(), key=lambda each: each[0] in opened):
        if name in opened and before is not None:
            if head() != before:
                yield f"{method} {path}: something was recorded for who may not"
            before = None
        for asked in ("GET", "HEAD") if method == "GET" else (method,):
            status = client.open(where, method=asked, headers={"Authorization": f"Bearer {key}"} if key else {},
                                 json={} if asked in ("PUT", "POST") and path != "/session/end" else None).status_code
            if status >= 500 or not (status != 403 if name in opened else
                                     status == (401 if name in NOBODY else 403)):
                yield f"{asked} {path} with {name}: {status}, and it needs {needed}"


def _opens(needed: str, name: str) -> bool:
    """Whether who has this key may ask. What is open to all does not even look at a key."""
    return needed == "open" or (name not in NOBODY and needed in OPENS[name])


PROGRAMME = Programme(
    "scopes", "T12", "only the cells of the table open", "routes", 1_000, 1_000, run, engines=("sqlite",),
    sabotages=("no_scope_check", "one_scope_changed"))
