"""Published joint-cost problems come out over HTTP, and each of the five methods conserves what was paid.

Source:  Horngren, Datar & Rajan, *Cost Accounting*, problems 16-16 (chicken parts) and 16-30 (butter and buttermilk):
         data read; the answers of 16-16 exact where the book prints them rounded, those of 16-30 computed.

The sheets' pounds and cups are entered as kg: a share does not depend on what the unit is called. Each part is put on
the menu whole, as one dish, so that its cost is published with the sheet's digits.
"""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

import pytest

from tests.stories.running_service import Client, RunningService

METHODS = ("weight", "market_value", "net_realisable_value", "constant_margin", "relative_value")
CHICKEN_LB = {"breasts": 100, "wings": 20, "thighs": 40, "bones": 80, "feathers": 10}
CHICKEN_PRICE = {"breasts": "1.10", "wings": "0.40", "thighs": "0.70", "bones": "0.20", "feathers": "0.10"}
DAIRY_CUPS = {"butter": 20_000, "buttermilk": 80_000}
DAIRY: Mapping[str, Mapping[str, str]] = {
    # Butter: 10 000 lb at 2.00 are 1.00 a cup; 20 000 tubs of a cup at 2.50, made for 0.50 a lb or 0.25 a cup.
    "butter": {"split_off_value": "1.00", "market_value": "2.50", "finishing_cost": "0.25"},
    # Buttermilk: 20 000 qt at 1.50 are 0.375 a cup, sold as it is.
    "buttermilk": {"split_off_value": "0.375", "market_value": "0.375", "finishing_cost": "0"}}
FINISHING = {"butter": Decimal(5_000), "buttermilk": Decimal(0)}


@pytest.fixture(scope="module")
def client(empty_service: RunningService) -> Client:
    admin = empty_service.admin
    admin.keep("/v1/settings", {"currency": "USD", "labour_rate_per_hour": "20"})
    admin.keep("/v1/suppliers/farm", {"name": "Farm"})
    return admin


def bought(client: Client, code: str, price: str) -> None:
    client.keep(f"/v1/ingredients/{code}", {"name": code, "kind": "primal", "base_unit": "kg", "allergens": []})
    client.keep(f"/v1/ingredients/{code}/prices", {
        "supplier": "farm", "amount": price, "pack_quantity": "1", "pack_unit": "kg", "effective_from": "2026-01-01"})


def shared(client: Client, code: str, method: str, outputs: list[dict[str, Any]], **facts: str) -> None:
    client.keep(f"/v1/breakdowns/{code}-split", {
        "name": code, "input": {"ingredient": code}, "method": method, "outputs": outputs, **facts})


def whole(client: Client, cuts: Mapping[str, int], of: str) -> str:
    """A dish that holds so much of each cut; its code."""
    client.keep(f"/v1/dishes/{of}", {"name": of, "portions": "1", "lines": [
        {"cut": cut, "quantity": str(quantity), "unit": "kg"} for cut, quantity in cuts.items()]})
    return of


def chicken_by(client: Client, method: str) -> None:
    bought(client, "chicken", "0.40")
    shared(client, "chicken", method, [
        {"cut": cut, "name": cut, "role": "trim", "expected_yield": str(Decimal(pounds) / 250),
         "split_off_value": CHICKEN_PRICE[cut]} for cut, pounds in CHICKEN_LB.items()])


def food_costs(client: Client, quantities: Mapping[str, int]) -> dict[str, str]:
    return {cut: client.read(f"/v1/dish-costs/{whole(client, {cut: quantity}, f'all-{cut}')}")["food_cost"]
            for cut, quantity in quantities.items()}


def test_chicken_parts_by_sales_value_at_split_off(client: Client) -> None:
    """Horngren 16-16: the exact figures; the book prints 67.50, 4.90, 17.20, 9.80 and 0.60."""
    chicken_by(client, "market_value")
    assert food_costs(client, CHICKEN_LB) == {
        "breasts": "67.4847", "wings": "4.9080", "thighs": "17.1779", "bones": "9.8160", "feathers": "0.6135"}
    order = whole(client, {"breasts": 20, "wings": 10}, "order")
    assert client.read(f"/v1/dish-costs/{order}")["food_cost"] == "15.9509"


def test_chicken_parts_by_weight(client: Client) -> None:
    """Horngren 16-16."""
    chicken_by(client, "weight")
    assert food_costs(client, CHICKEN_LB) == {
        "breasts": "40.0000", "wings": "8.0000", "thighs": "16.0000", "bones": "32.0000", "feathers": "4.0000"}
    order = whole(client, {"breasts": 20, "wings": 10}, "order")
    assert client.read(f"/v1/dish-costs/{order}")["food_cost"] == "12.0000"


@pytest.mark.parametrize(("method", "butter", "buttermilk"), [
    ("weight", 4_000, 16_000), ("market_value", 8_000, 12_000), ("net_realisable_value", 12_000, 8_000),
    ("constant_margin", 10_625, 9_375)])
def test_butter_and_buttermilk_by_four_methods(client: Client, method: str, butter: int, buttermilk: int) -> None:
    """Horngren 16-30: the joint cost of 20 000 as each method shares it; what finishing costs comes on top."""
    bought(client, "cream", "0.20")
    shared(client, "cream", method, [
        {"cut": cut, "name": cut, "role": "main", "expected_yield": str(Decimal(cups) / 100_000), **DAIRY[cut]}
        for cut, cups in DAIRY_CUPS.items()])
    for cut, joint_cost in (("butter", butter), ("buttermilk", buttermilk)):
        told = client.read(f"/v1/dish-costs/{whole(client, {cut: DAIRY_CUPS[cut]}, f'all-{cut}')}")
        assert Decimal(told["food_cost"]) + Decimal(told["labour_cost"]) == joint_cost + FINISHING[cut]
        share = client.read(f"/v1/cut-costs/{cut}")["share_of_joint_cost"]
        assert abs(Decimal(share) - Decimal(joint_cost) / 20_000) <= Decimal("0.00005")


FISH = ("11.37", "0.07", "2.5")
"""Price and packaging per kg, and minutes per kg at 20.00 an hour."""
OUTPUTS = [
    {"cut": "loin", "name": "Loin", "role": "main", "expected_yield": "0.413", "market_value": "23.90",
     "split_off_value": "21.10", "relative_value": "3", "finishing_cost": "0.37"},
    {"cut": "tail", "name": "Tail", "role": "main", "expected_yield": "0.129", "market_value": "17.30",
     "split_off_value": "15.80", "relative_value": "2.2", "finishing_cost": "0"},
    {"cut": "belly", "name": "Belly", "role": "trim", "expected_yield": "0.071", "market_value": "9.70",
     "split_off_value": "8.60", "relative_value": "1.1", "finishing_cost": "0.93"},
    {"cut": "frame", "name": "Frame", "role": "by_product", "expected_yield": "0.257", "credit_value": "0.83"},
    {"cut": "gills", "name": "Gills", "role": "loss", "expected_yield": "0.033", "disposal_cost": "0.19"}]


def carriers() -> Iterator[dict[str, str]]:
    yield from (output for output in OUTPUTS if output["role"] in ("main", "trim"))


def to_be_carried() -> Decimal:
    """K + sum of finishing x yield per kg of input, straight from the sheet."""
    price, packaging, minutes = map(Decimal, FISH)
    joint = price + packaging + Decimal("0.19") * Decimal("0.033") - Decimal("0.83") * Decimal("0.257")
    return joint + minutes * 20 / 60 + sum(
        Decimal(output["finishing_cost"]) * Decimal(output["expected_yield"]) for output in carriers())


@pytest.mark.parametrize("method", METHODS)
def test_every_method_carries_all_of_the_cost_and_no_more(client: Client, method: str) -> None:
    bought(client, "hake", FISH[0])
    shared(client, "hake", method, OUTPUTS, packaging_per_kg=FISH[1], labour_minutes_per_kg=FISH[2])
    carried = tolerance = Decimal(0)
    for output in carriers():
        told = client.read(f"/v1/cut-costs/{output['cut']}")
        assert (told["method"], told["status"]) == (method, "complete")
        carried += Decimal(told["cost_per_kg"]) * Decimal(output["expected_yield"])
        tolerance += Decimal("0.00005") * Decimal(output["expected_yield"])
    assert abs(carried - to_be_carried()) <= tolerance


def test_the_five_methods_do_not_say_the_same(client: Client) -> None:
    bought(client, "hake", FISH[0])
    loins = set()
    for method in METHODS:
        shared(client, "hake", method, OUTPUTS, packaging_per_kg=FISH[1], labour_minutes_per_kg=FISH[2])
        loins.add(client.read("/v1/cut-costs/loin")["cost_per_kg"])
    assert len(loins) == len(METHODS)
