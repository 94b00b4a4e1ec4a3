"""The story of a till and of who buys, told by the generated Python client alone. Prints what it saw as JSON.

Run in the virtual environment of the generator, with the client on the path and in the environment the service's
address (SERVICE), a key (KEY) and the amount of a new price (AMOUNT).
"""

import json
import os
from typing import Any

from seamcost_client import AuthenticatedClient
from seamcost_client.api.dish_cost_changes import list_dish_cost_changes
from seamcost_client.api.dish_costs import list_dish_costs, read_dish_cost
from seamcost_client.api.prices import post_price
from seamcost_client.models import DishCostAnswer, PriceRequest, PriceRequestPackUnit, SparseDishCostAnswer
from seamcost_client.models import ListDishCostsFieldsItem as Member
from seamcost_client.types import UNSET

DISH, INGREDIENT, SUPPLIER = "grilled-cap", "beef-topside", "fenmoor"
CLIENT = AuthenticatedClient(base_url=os.environ["SERVICE"], token=os.environ["KEY"], raise_on_unexpected_status=True)


def one_dish() -> dict[str, Any]:
    """One dish, and 304 by its tag."""
    read = read_dish_cost.sync_detailed(DISH, client=CLIENT)
    again = read_dish_cost.sync_detailed(DISH, client=CLIENT, if_none_match=read.headers["ETag"])
    assert isinstance(read.parsed, DishCostAnswer)
    return {"food_cost": read.parsed.food_cost, "status": read.parsed.status.value, "again": int(again.status_code)}


def whole_menu() -> list[tuple[str, Any]]:
    """Every dish, three at a time."""
    rows, cursor = [], UNSET
    while cursor is not None:
        page = list_dish_costs.sync(client=CLIENT, limit=3, cursor=cursor)
        assert all(isinstance(row, DishCostAnswer) for row in page.data)
        rows += [(row.dish, row.food_cost) for row in page.data]
        cursor = page.next_cursor
    return rows


def two_sparse_rows(codes: list[str]) -> list[dict[str, Any]]:
    """Two dishes by their codes, with two members each."""
    page = list_dish_costs.sync(client=CLIENT, codes=codes, fields=[Member.DISH, Member.FOOD_COST_PERCENT])
    assert all(isinstance(row, SparseDishCostAnswer) for row in page.data)
    return [row.to_dict() for row in page.data]


def a_dearer_ingredient() -> dict[str, Any]:
    """Where the feed stands, a price posted, and what the feed tells then."""
    standing = list_dish_costs.sync(client=CLIENT)
    begun = list_dish_cost_changes.sync(client=CLIENT, from_revision=standing.revision, from_date=standing.as_of)
    price = post_price.sync(INGREDIENT, client=CLIENT, body=_price(os.environ["AMOUNT"]), idempotency_key='"py-1"')
    told = list_dish_cost_changes.sync(client=CLIENT, after=begun.next_cursor, wait=5)
    moved = {change.dish: [change.before.food_cost, change.after.food_cost] for change in told.data}
    return {"price": price.id, "before": begun.data, "moved": moved, "kinds": sorted({
        cause.kind for change in told.data for cause in change.causes}), "now": one_dish()["food_cost"]}


def what_is_refused() -> dict[str, Any]:
    """A price that is none: 422, with the field; and no key at all: 401."""
    problem = post_price.sync_detailed(INGREDIENT, client=CLIENT, body=_price("-1"))
    stranger = AuthenticatedClient(base_url=os.environ["SERVICE"], token="none")
    unknown = read_dish_cost.sync_detailed(DISH, client=stranger)
    return {"status": problem.parsed.status, "type": problem.parsed.type_,
            "pointers": [fault.pointer for fault in problem.parsed.errors],
            "details": [fault.detail for fault in problem.parsed.errors],
            "stranger": [int(unknown.status_code), unknown.parsed.type_]}


def _price(amount: str) -> PriceRequest:
    return PriceRequest(supplier=SUPPLIER, amount=amount, pack_quantity="1", pack_unit=PriceRequestPackUnit.KG)


if __name__ == "__main__":
    menu = whole_menu()
    print(json.dumps({"dish": one_dish(), "menu": menu, "sparse": two_sparse_rows([menu[0][0], menu[1][0]]),
                      "dearer": a_dearer_ingredient(), "refused": what_is_refused()}))
