"""The chef asks whether the yields can be trusted: how far a dish could be off, how many more tests make it sure, and
what a point of lean in the bin costs. On both engines.

Judges: numpy, from the weights as they were sent; and the service itself, once what was supposed has really happened.
"""

from typing import Any

import numpy as np
import pytest

from tests.stories.running_service import Client, RunningService

Body = dict[str, Any]
PRICE, DISPOSAL, QUANTITY, ALLOWANCE = 9.60, 0.25, 0.22, 1.02
CUTS = ("leg-chump", "leg-meat", "leg-skin")
VALUES = {"leg-chump": 14.50, "leg-meat": 12.00}
TESTS = (("2.900", "0.610", "1.880", "0.250"), ("3.140", "0.655", "2.010", "0.300"),
         ("3.020", "0.590", "1.910", "0.290"), ("2.860", "0.640", "1.850", "0.240"))


@pytest.fixture(scope="module")
def chef(empty_service: RunningService) -> Client:
    """A leg of lamb at 9.60 a kg, boned four times, and a dish of its chump."""
    client = empty_service.admin
    client.keep("/v1/settings", {"currency": "GBP", "labour_rate_per_hour": "18.60"})
    client.keep("/v1/suppliers/fenmoor", {"name": "Fenmoor"})
    client.keep("/v1/ingredients/lamb-leg", {"name": "Leg of lamb", "kind": "primal", "base_unit": "kg",
                                             "preferred_supplier": "fenmoor", "allergens": []})
    client.keep("/v1/ingredients/lamb-leg/prices", {
        "supplier": "fenmoor", "amount": str(PRICE), "pack_quantity": "1", "pack_unit": "kg",
        "effective_from": "2026-01-05"})
    client.keep("/v1/breakdowns/leg-boned", boned(("0.20", "0.64", "0.09"), "tests"))
    client.keep("/v1/dishes/chump", {
        "name": "Chump, mint", "portions": "1", "allowance_percent": "2", "menu_price": "19.50",
        "lines": [{"cut": "leg-chump", "quantity": str(QUANTITY), "unit": "kg"}]})
    record(client, len(TESTS))
    return client


def boned(yields: tuple[str, str, str], yields_from: str) -> Body:
    facts: tuple[Body, ...] = ({"role": "main", "market_value": "14.50"}, {"role": "trim", "market_value": "12.00"},
                               {"role": "loss", "disposal_cost": str(DISPOSAL)})
    return {"name": "Leg, boned", "input": {"ingredient": "lamb-leg"}, "method": "market_value",
            "yields_from": yields_from, "labour_minutes_per_kg": "6", "outputs": [
                {"cut": cut, "name": cut, "expected_yield": share, **of} for cut, share, of in zip(
                    CUTS, yields, facts, strict=True)]}


def record(client: Client, count: int) -> None:
    for n in range(count):
        paid, *weights = TESTS[n % len(TESTS)]
        client.keep("/v1/breakdowns/leg-boned/yield-tests", {
            "tested_on": "2026-02-03", "unit": "kg", "input_weight": paid,
            "outputs": [{"cut": cut, "weight": weight} for cut, weight in zip(CUTS, weights, strict=True)]})


def chump(client: Client) -> Any:
    (row,) = client.read("/v1/food-cost-uncertainty?dishes=chump")["data"]
    return row


def error_by_numpy() -> float:
    """By the formula of the cost in floats, its slopes by differences, and the matrix of the residuals."""
    weights = np.array([[float(weight) for weight in test] for test in TESTS])
    x, y = weights[:, 0], weights[:, 1:]
    ratios = y.sum(axis=0) / x.sum()
    off = y - np.outer(x, ratios)
    covariance = off.T @ off / (len(x) * (len(x) - 1)) / x.mean() ** 2

    def cost(at: np.ndarray) -> float:
        shared = at[0] * VALUES["leg-chump"] + at[1] * VALUES["leg-meat"]
        return float((PRICE + DISPOSAL * at[2]) * VALUES["leg-chump"] / shared * QUANTITY * ALLOWANCE)

    slopes = np.array([(cost(ratios + step) - cost(ratios - step)) / 2e-6 for step in np.eye(3) * 1e-6])
    return float(np.sqrt(slopes @ covariance @ slopes))


def test_a_dish_is_off_by_what_numpy_says(chef: Client) -> None:
    row = chump(chef)
    assert abs(float(row["standard_error"]) - error_by_numpy()) <= 0.00006
    assert (row["status"], row["main_breakdown"], row["degrees_of_freedom"]) == ("complete", "leg-boned", 3)


def test_as_many_more_tests_as_it_says_make_it_sure(chef: Client) -> None:
    """Tests that scatter as those so far: the same pieces come again, in whole rounds."""
    more = chump(chef)["more_tests"]
    assert more > 0
    record(chef, -(-more // len(TESTS)) * len(TESTS))
    sure = chump(chef)
    assert (sure["more_tests"], sure["why_not"]) == (0, None)
    assert float(sure["half_width_percent"]) <= 1


def test_a_point_in_the_bin_costs_what_it_then_really_costs(chef: Client) -> None:
    """The yields as declared; then those with a point of the meat gone into the skin."""
    chef.keep("/v1/breakdowns/leg-boned", boned(("0.20", "0.64", "0.09"), "declared"))
    told = chef.read("/v1/breakdowns/leg-boned/lean-loss?input_kg_per_year=4000")
    _, meat = told["outputs"]
    costs = {cut: chef.read(f"/v1/cut-costs/{cut}")["cost_per_kg"] for cut in VALUES}
    assert [row["cost_per_kg"] for row in told["outputs"]] == list(costs.values())
    chef.keep("/v1/breakdowns/leg-boned", boned(("0.20", "0.63", "0.10"), "declared"))
    assert chef.read("/v1/cut-costs/leg-meat")["cost_per_kg"] == meat["cost_per_kg_after"]
    assert meat["value_per_year"] == f"{40 * (VALUES['leg-meat'] + DISPOSAL):.4f}"
    assert told["in_words"].startswith("Leg, boned: 1 percentage point of lean in the bin is 40 kg a year at 4000 kg")
