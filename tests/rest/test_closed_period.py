"""What a client is told when it would change figures of a closed period: the field, the last closed day, the mend."""

from datetime import timedelta
from typing import Any

import pytest

from tests.rest.small_kitchen import DISH, PRICE, SETTINGS, SUPPLIER, TEST, Body, Kitchen, refused

CLOSED = "2026-02-28"


@pytest.fixture(autouse=True)
def _february_is_closed(kitchen: Kitchen) -> None:
    if kitchen.read("/v1/settings")["closed_through"] is None:
        kitchen.keep("/v1/settings", SETTINGS | {"closed_through": CLOSED})


@pytest.mark.parametrize(("path", "body", "pointer"), [
    ("/v1/ingredients/leg/prices", PRICE | {"effective_from": "2026-02-01"}, "#/effective_from"),
    ("/v1/dishes/soup", DISH | {"effective_from": CLOSED, "menu_price": "7"}, "#/effective_from"),
    ("/v1/settings", SETTINGS | {"closed_through": CLOSED, "effective_from": CLOSED, "default_tax_rate_percent": "5"},
     "#/effective_from"),
    ("/v1/breakdowns/boned/yield-tests", TEST, "#/tested_on")])
def test_a_write_that_would_count_on_a_closed_day_is_refused_at_its_date(
    kitchen: Kitchen, path: str, body: Body, pointer: str
) -> None:
    head = kitchen.ledger.head()
    answer = kitchen.put(path, body)
    assert (answer.status_code, answer.json["type"]) == (422, "/docs/problems/period-closed"), answer.text
    assert ([error["pointer"] for error in answer.json["errors"]], answer.json["closed_through"]) == ([pointer], CLOSED)
    assert kitchen.ledger.head() == head


def test_retiring_from_a_closed_day_is_refused_at_its_parameter(kitchen: Kitchen) -> None:
    kitchen.keep("/v1/suppliers/leaving", SUPPLIER)
    path, headers = "/v1/suppliers/leaving", kitchen.headers | {"If-Match": "*"}
    answer = kitchen.client.delete(f"{path}?effective_from={CLOSED}", headers=headers)
    kitchen.validator.check_answer("DELETE", path, answer.status_code, answer.content_type, answer.data)
    assert (answer.status_code, answer.json["errors"][0]["parameter"]) == (422, "effective_from")
    assert "2026-03-01" in answer.json["detail"]


def test_what_held_on_a_closed_day_is_not_taken_back(kitchen: Kitchen) -> None:
    tomorrow = (kitchen.ledger.today() + timedelta(days=1)).isoformat()
    kitchen.keep("/v1/settings", SETTINGS | {"closed_through": tomorrow})
    for path, end in (("/v1/ingredients/leg/prices", "withdrawal"), ("/v1/breakdowns/boned/yield-tests", "set-aside")):
        answer = kitchen.send("POST", f"{path}/{last(kitchen, path)}/{end}", b'{"reason": "a slip of the pen"}')
        assert (answer.status_code, answer.json["type"]) == (422, "/docs/problems/period-closed"), answer.text
    kitchen.keep("/v1/settings", SETTINGS | {"closed_through": CLOSED})


def last(kitchen: Kitchen, path: str) -> Any:
    return kitchen.read(path)["data"][0]["id"]


@pytest.mark.parametrize("day", ["2026-02-30", "28.2.2026", "1899-12-31", "", 20260228, True])
def test_the_last_closed_day_is_a_day(kitchen: Kitchen, day: Any) -> None:
    refused(kitchen, "/v1/settings", SETTINGS | {"closed_through": day}, "wrong-value", "#/closed_through")


def test_settings_say_which_period_is_closed_and_their_limits(kitchen: Kitchen) -> None:
    kitchen.keep("/v1/settings", SETTINGS | {"closed_through": CLOSED, "price_deviation_limit": "2.50"})
    told = kitchen.read("/v1/settings")
    assert (told["closed_through"], told["price_change_limit_percent"], told["price_deviation_limit"]) == (
        CLOSED, "25", "2.5")
    kitchen.keep("/v1/settings", SETTINGS | {"closed_through": None})
    assert kitchen.read("/v1/settings")["closed_through"] is None
