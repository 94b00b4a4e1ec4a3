"""The priced kitchen that also bones a leg of lamb: three tests in pounds, two dishes; another way of boning it, not in
use, to go wrong with; and a breakdown of a cut of it that nobody has tested yet. Invented."""

from typing import Any

from tests.stories.running_service import Client

CODE, TRIED, STEAKS = "leg-boned", "leg-tried", "chump-steaks"
CUTS = ("leg-chump", "leg-meat", "leg-bone", "leg-skin")
TESTS = (("6.40", "1.34", "4.10", "0.62", "0.20"), ("6.92", "1.46", "4.42", "0.66", "0.22"),
         ("6.66", "1.38", "4.28", "0.64", "0.20"))
OUTPUTS: tuple[dict[str, Any], ...] = (
    {"cut": "leg-chump", "name": "Chump", "role": "main", "expected_yield": "0.20", "market_value": "14.50"},
    {"cut": "leg-meat", "name": "Leg meat, diced", "role": "trim", "expected_yield": "0.64", "market_value": "12.00"},
    {"cut": "leg-bone", "name": "Bone", "role": "by_product", "expected_yield": "0.09", "credit_value": "0.40"},
    {"cut": "leg-skin", "name": "Skin, sinew", "role": "loss", "expected_yield": "0.03"})


def record_block(admin: Client) -> None:
    """Record all of it."""
    admin.keep("/v1/ingredients/lamb-leg", {"name": "Leg of lamb", "kind": "primal", "base_unit": "kg",
                                            "preferred_supplier": "fenmoor", "allergens": []})
    admin.keep("/v1/ingredients/lamb-leg/prices", {
        "supplier": "fenmoor", "amount": "9.60", "pack_quantity": "1", "pack_unit": "kg",
        "effective_from": "2026-01-05"})
    for code, name in ((CODE, "Leg, boned"), (TRIED, "Leg, tried")):
        admin.keep(f"/v1/breakdowns/{code}", {
            "name": name, "input": {"ingredient": "lamb-leg"}, "method": "market_value", "yields_from": "tests",
            "in_use": code == CODE, "outputs": list(OUTPUTS)})
    admin.keep(f"/v1/breakdowns/{STEAKS}", {
        "name": "Chump <b>&</b> steaks", "input": {"cut": "leg-chump"}, "method": "weight", "yields_from": "tests",
        "outputs": [{"cut": "chump-steak", "name": "Chump steak", "role": "main", "expected_yield": "0.90"},
                    {"cut": "chump-scrap", "name": "Scrap", "role": "loss", "expected_yield": "0.08"}]})
    for code, name, cut, price in (("chump-mint", "Chump, mint", "chump-steak", "13.05"),
                                   ("lamb-stew", "Lamb stew", "leg-meat", "14.00")):
        admin.keep(f"/v1/dishes/{code}", {"name": name, "section": "stove", "portions": "1", "menu_price": price,
                                          "lines": [{"cut": cut, "quantity": "0.22", "unit": "kg"}]})
    for code in (CODE, TRIED):
        for paid, *weights in TESTS:
            admin.keep(f"/v1/breakdowns/{code}/yield-tests", {
                "tested_on": "2026-02-03", "unit": "lb", "input_weight": paid, "butcher": "block 2", "grade": "R3",
                "outputs": [{"cut": cut, "weight": weight} for cut, weight in zip(CUTS, weights, strict=True)]})
