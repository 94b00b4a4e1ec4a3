"""Monday's price rise: the chef finds in the morning which dishes left their targets, notes it, and mends one.

Prices, dish and sums are worked by hand: 200 g of brill at 22.00 a kilogram is 4.40 of 18.00, 24.44 %; at 29.00 it is
5.80, 32.22 %; a portion of 180 g is 5.22, 29.00 %. The target is 30 %.
"""

from datetime import timedelta
from typing import Any

from tests.stories.running_service import WEDNESDAY, Client, RunningService

ALERTS = "/v1/margin-alerts"
MONDAY = WEDNESDAY + timedelta(days=5)


def a_brill(grams: int) -> dict[str, Any]:
    return {"name": "Brill on the bone", "section": "fish", "portions": "1", "menu_price": "18.00",
            "tax_rate_percent": "0", "target_food_cost_percent": "30",
            "lines": [{"ingredient": "brill", "quantity": str(grams), "unit": "g"}]}


def a_price(client: Client, amount: str, start: str) -> None:
    client.keep("/v1/ingredients/brill/prices", {
        "supplier": "harrowick", "amount": amount, "pack_quantity": "1", "pack_unit": "kg", "effective_from": start,
        "reference": "Letter of the 24th"})


def up_to_date(client: Client, path: str = ALERTS) -> list[dict[str, Any]]:
    """The alerts, once a look has got to the end of what happened."""
    while True:
        page = client.read(path)
        if page["up_to_date"]:
            rows: list[dict[str, Any]] = page["data"]
            return rows


def of_brill(client: Client) -> list[dict[str, Any]]:
    return up_to_date(client, f"{ALERTS}?dish=brill")


def test_a_price_rise_of_monday_is_an_alert_that_is_noted_and_mended(service: RunningService) -> None:
    chef = service.admin
    chef.keep("/v1/ingredients/brill", {"name": "Brill", "kind": "fish", "base_unit": "kg"})
    a_price(chef, "22.00", WEDNESDAY.isoformat())
    chef.keep("/v1/dishes/brill", a_brill(200))
    a_price(chef, "29.00", MONDAY.isoformat())
    assert of_brill(chef) == []
    head = chef.head_revision()

    service.move_to(MONDAY)
    workers = [service.same(chef) for _ in range(4)]
    [alert] = of_brill(chef)
    assert all(of_brill(worker) == [alert] for worker in workers), "each worker tells the same"
    assert (alert["crossed"], alert["open"], alert["as_of"], alert["moved_by"], alert["who"]) == (
        "outside", True, MONDAY.isoformat(), "date", None)
    assert alert["because"] == "A price of Brill came into force."
    assert [alert[side]["food_cost_percent"] for side in ("before", "after")] == ["24.44", "32.22"]
    assert chef.head_revision() == head, "alerts take no revision"

    noted = chef.post(f"{ALERTS}/{alert['id']}/acknowledgement", {"note": "Smaller portion from tonight"})
    assert noted.status_code == 200, noted.text
    assert chef.head_revision() == head + 1
    assert [row["id"] for row in up_to_date(chef, f"{ALERTS}?acknowledged=true")] == [alert["id"]]
    [entry] = [one for one in chef.read("/v1/changes?limit=1000")["data"] if one["kind"] == "margin_alert"]
    assert (entry["code"], entry["record"]["note"]) == (alert["id"], "Smaller portion from tonight")

    chef.keep("/v1/dishes/brill", a_brill(180))
    back, out = of_brill(chef)
    assert (back["crossed"], back["after"]["food_cost_percent"], back["closes"]["id"]) == (
        "back_within", "29.00", alert["id"])
    assert (out["open"], out["closed_by"]["id"], out["acknowledgement"]["note"]) == (
        False, back["id"], "Smaller portion from tonight")
    assert up_to_date(chef, f"{ALERTS}?dish=brill&open=true") == []

    service.move_to(MONDAY + timedelta(days=3))
    assert of_brill(chef) == [back, out], "nothing repeats while nothing crosses"
