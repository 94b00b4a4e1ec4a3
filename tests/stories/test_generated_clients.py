"""Clients that are generated from the API document work against the service, in Python and in TypeScript.

Both tell the same story: one dish, 304 by its tag, the menu in pages, two rows with chosen members, a price posted and
what the feed tells of it, a problem, and no key. What they saw is held against plain requests.
"""

import json
import re
from collections.abc import Mapping
from typing import Any

import pytest

from service.rest.openapi_layer.document import operations
from tests.clients.generated import DOCUMENT, NOT_GENERATED, Tell, python_client, typescript_client
from tests.node_packages import SECONDS_TO_INSTALL, needs_node
from tests.stories.running_service import Client, RunningService

pytestmark = pytest.mark.timeout(SECONDS_TO_INSTALL + 300)
LISTED = "/v1/dish-costs"


@pytest.fixture(scope="module")
def python(tmp_path_factory: pytest.TempPathFactory) -> tuple[Tell, str]:
    return python_client(tmp_path_factory.mktemp("python-client"))


@pytest.fixture(scope="module")
def typescript(tmp_path_factory: pytest.TempPathFactory) -> tuple[Tell, str]:
    return typescript_client(tmp_path_factory.mktemp("typescript-client"))


def hold_the_story(service: RunningService, tell: Tell, amount: str) -> None:
    """Let a client tell its story, and hold it against what plain requests see before and after."""
    before, buyer = costs(service.admin), service.client("read", "prices:write")
    seen = json.loads(tell({"SERVICE": service.address, "KEY": buyer.key, "AMOUNT": amount}))
    after = costs(service.admin)
    assert seen["dish"] == {"food_cost": before["grilled-cap"]["food_cost"], "status": "complete", "again": 304}
    assert seen["menu"] == [[dish, row["food_cost"]] for dish, row in before.items()]
    assert seen["sparse"] == [{name: row[name] for name in ("dish", "food_cost_percent")}
                              for row in list(before.values())[:2]]
    hold_the_dearer(service.admin, seen["dearer"], before, after, amount)
    hold_the_refusals(service, buyer, seen["refused"])


def costs(client: Client) -> dict[str, Any]:
    return {row["dish"]: row for row in client.everything(LISTED)}


def hold_the_dearer(admin: Client, seen: Mapping[str, Any], before: Mapping[str, Any], after: Mapping[str, Any],
                    amount: str) -> None:
    price, = [price for price in admin.read("/v1/ingredients/beef-topside/prices")["data"]
              if price["id"] == seen["price"]]
    assert price["amount"] == amount
    assert seen["before"] == []
    assert seen["moved"] == {dish: [row["food_cost"], after[dish]["food_cost"]] for dish, row in before.items()
                             if figures(row) != figures(after[dish])}
    assert seen["moved"]["grilled-cap"] == [before["grilled-cap"]["food_cost"], seen["now"]]
    assert seen["kinds"] == ["price"]


def figures(row: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name not in ("revision", "as_of")}


def hold_the_refusals(service: RunningService, buyer: Client, seen: Mapping[str, Any]) -> None:
    plain = buyer.post("/v1/ingredients/beef-topside/prices", {
        "supplier": "fenmoor", "amount": "-1", "pack_quantity": "1", "pack_unit": "kg"})
    assert (seen["status"], seen["type"]) == (plain.status_code, plain.json()["type"])
    assert seen["pointers"] == ["#/amount"]
    assert seen["details"] == [fault["detail"] for fault in plain.json()["errors"]]
    assert seen["stranger"] == [401, service.client().get(LISTED).json()["type"]]


def test_the_python_client_tells_the_story(service: RunningService, python: tuple[Tell, str]) -> None:
    hold_the_story(service, python[0], "23.1")


@needs_node
def test_the_typescript_client_tells_the_story(service: RunningService, typescript: tuple[Tell, str]) -> None:
    hold_the_story(service, typescript[0], "24.2")


def test_the_python_generator_leaves_out_nothing_but_files(python: tuple[Tell, str]) -> None:
    """It takes no bodies of other media types than JSON; operations that take nothing else are files alone."""
    left_out = set(re.findall(r"parsing (\w+ \S+) within \S+ " + NOT_GENERATED, python[1]))
    document = json.loads(DOCUMENT.read_text("utf-8"))
    files = {f"{method.upper()} {path}" for path, method, operation in operations(document)
             if "application/json" not in operation.get("requestBody", {}).get("content", {"application/json": {}})}
    assert left_out <= files
    assert "seamcost_client" in python[1]
