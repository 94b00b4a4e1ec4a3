"""A small kitchen behind the whole application, asked without a network: what bad input is tried on.

A leg that is broken down, an egg that has a conversion, a stock and a soup. Every answer is held to the API document.
"""

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service import operating, wiring
from service.settings import Settings
from service.use_cases.keys import create_key
from service.use_cases.ports import Asker, Ledger
from tests.answer_validator import AnswerValidator
from tests.rest.api_document import VALIDATOR

Body = dict[str, Any]
BUILDER = Asker("cli", "builder", "builder")


@dataclass
class Kitchen:
    """The application on a ledger with a kitchen, asked without a network."""

    ledger: Ledger
    client: FlaskClient
    headers: dict[str, str]
    validator: AnswerValidator

    def send(self, method: str, path: str, data: bytes, media_type: str = "application/json") -> TestResponse:
        """Send bytes as they are, held to the API document."""
        answer: TestResponse = self.client.open(path, method=method, data=data, content_type=media_type,
                                                headers=self.headers)
        self.validator.check_answer(method, path, answer.status_code, answer.content_type or "", answer.data)
        return answer

    def put(self, path: str, body: Body) -> TestResponse:
        """Replace whatever is there."""
        method = "POST" if path.endswith(("/prices", "/yield-tests")) else "PUT"
        there = method == "PUT" and self.client.get(path, headers=self.headers).status_code == 200
        headers = self.headers | ({"If-Match": "*"} if there else {})
        answer: TestResponse = self.client.open(path, method=method, json=body, headers=headers)
        self.validator.check_answer(method, path, answer.status_code, answer.content_type or "", answer.data)
        return answer

    def keep(self, path: str, body: Body) -> None:
        answer = self.put(path, body)
        assert answer.status_code in (200, 201), answer.text

    def read(self, path: str) -> Any:
        answer = self.client.get(path, headers=self.headers)
        assert answer.status_code == 200, answer.text
        return answer.json

    def retire(self, path: str) -> None:
        answer = self.client.delete(path, headers=self.headers | {"If-Match": "*"})
        assert answer.status_code == 204, answer.text


@contextmanager
def small_kitchen(database: Path) -> Iterator[Kitchen]:
    """The application on a migrated, empty SQLite file, filled with what is good."""
    settings = Settings(database_url=f"sqlite:///{database}")
    with operating.opened_ledger(settings) as ledger:
        app = wiring.app_on(ledger, settings)
        key = create_key(ledger, "admin", ["admin"], None, BUILDER).document["key"]
        kitchen = Kitchen(ledger, app.test_client(), {"Authorization": f"Bearer {key}"}, VALIDATOR)
        for where, body in GOOD.items():
            kitchen.keep(where, body)
        yield kitchen


def an_output(cut: str, role: str = "main", expected_yield: Any = "0.5", **facts: Any) -> Body:
    return {"cut": cut, "name": cut, "role": role, "expected_yield": expected_yield, **facts}


def a_use(of: str, quantity: Any = "1", unit: Any = "kg", **facts: Any) -> Body:
    kind, code = of.split()
    return {kind: code, "quantity": quantity, "unit": unit, **facts}


SETTINGS: Body = {"currency": "GBP", "time_zone": "UTC", "business_day_start": "00:00"}
SUPPLIER: Body = {"name": "Mill"}
INGREDIENT: Body = {"name": "Leg", "kind": "primal", "base_unit": "kg"}
EGG: Body = {"name": "Egg", "kind": "eggs", "base_unit": "each",
             "conversions": [{"unit": "each", "to_quantity": "0.055", "to_unit": "kg"}]}
PRICE: Body = {"supplier": "mill", "amount": "9.60", "pack_quantity": "1", "pack_unit": "kg"}
ITEM: Body = {"name": "Leg, bone in", "ingredient": "leg",
              "pack": {"name": "case", "count": "2", "quantity": "5", "unit": "kg"}, "gtin": "6291041500213"}
BREAKDOWN: Body = {"name": "Leg, boned", "input": {"ingredient": "leg"}, "method": "weight",
                   "outputs": [an_output("leg-meat"), an_output("leg-trim", "trim", "0.3"),
                               an_output("leg-skin", "loss", "0.1")]}
RECIPE: Body = {"name": "Stock", "makes_quantity": "2", "makes_unit": "l", "lines": [a_use("cut leg-trim")]}
DISH: Body = {"name": "Soup", "portions": "4", "menu_price": "6.50",
              "lines": [a_use("recipe stock", "1", "l"), a_use("ingredient egg", "2", "each")]}
TEST: Body = {"tested_on": "2026-02-03", "unit": "kg", "input_weight": "10", "outputs": [
    {"cut": "leg-meat", "weight": "5.2"}, {"cut": "leg-trim", "weight": "2.9"}, {"cut": "leg-skin", "weight": "1.1"}]}
GOOD: dict[str, Body] = {
    "/v1/settings": SETTINGS, "/v1/suppliers/mill": SUPPLIER, "/v1/ingredients/leg": INGREDIENT,
    "/v1/ingredients/egg": EGG, "/v1/ingredients/leg/prices": PRICE, "/v1/breakdowns/boned": BREAKDOWN,
    "/v1/breakdowns/boned/yield-tests": TEST, "/v1/recipes/stock": RECIPE, "/v1/dishes/soup": DISH,
    "/v1/suppliers/mill/items/10%2F2": ITEM}


def with_change(body: Body, change: Callable[[Body], Any]) -> Body:
    changed: Body = json.loads(json.dumps(body))
    change(changed)
    return changed


def setting(where: str, value: Any) -> Callable[[Body], None]:
    """A change of one member, by its JSON Pointer."""
    *way, last = where.removeprefix("#/").split("/")

    def change(body: Body) -> None:
        here: Any = body
        for step in way:
            here = here[int(step) if isinstance(here, list) else step]
        here[int(last) if isinstance(here, list) else last] = value

    return change


def refused(kitchen: Kitchen, path: str, body: Body, problem: str, *pointers: str) -> Body:
    """Refused with a problem that points there, with nothing written; the good body is taken afterwards."""
    head = kitchen.ledger.head()
    answer = kitchen.put(path, body)
    told: Body = answer.json
    assert 400 <= answer.status_code < 500, answer.text
    assert told["type"] == f"/docs/problems/{problem}", answer.text
    assert answer.content_type == "application/problem+json"
    assert [error["pointer"] for error in told["errors"]] == list(pointers), answer.text
    assert all(len(error["detail"].split()) > 3 and error["code"] for error in told["errors"])
    assert kitchen.ledger.head() == head
    if path in GOOD:
        kitchen.keep(path, GOOD[path])
    return told
