"""Finance: after a month of random prices, contracts, an accepted list and new recipes, every dish's movement is
explained to the digit: over HTTP, and held to the naive judge of the demo kitchen at both ends.
"""

import csv
import io
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from random import Random
from typing import Any

import pytest

from tests.cli.naive_kitchen import NaiveKitchen
from tests.stories.expected_figures import kitchen_on, rounded
from tests.stories.running_service import WEDNESDAY, Client, RunningService

PATH = "/v1/price-movements"
START, END = WEDNESDAY, WEDNESDAY + timedelta(days=30)
LIST_STARTS, NEW_RECIPE, NEW_DISH = (WEDNESDAY + timedelta(days=days) for days in (9, 14, 20))
LIST = {"V/014": ("shallot", "24.85", "10"), "V/021": ("onion", "15.95", "20"), "D 710": ("butter", "70.15", "10")}
"""The supplier's item, what it stands for, the new price of a pack, and the kilograms in it."""

Body = dict[str, Any]


@dataclass
class Month:
    """The service after the month was recorded ahead, and what was recorded, for the judge."""

    finance: Client
    prices: dict[str, list[Body]] = field(default_factory=lambda: defaultdict(list))
    revisions: dict[str, str] = field(default_factory=dict)
    list_revision: int = 0

    def judge(self, day: date) -> NaiveKitchen:
        """The naive kitchen with all of it, on a day."""
        kitchen = kitchen_on(day)
        for code, prices in self.prices.items():
            kitchen.prices[code] += prices
        if day >= NEW_RECIPE:
            kitchen.records["recipes"]["red-wine-jus"] = richer(kitchen.records["recipes"]["red-wine-jus"])
        if day >= NEW_DISH:
            kitchen.records["dishes"]["roast-topside"] = larger(kitchen.records["dishes"]["roast-topside"])
        return kitchen

    def movement(self, start: date, end: date, extra: str = "") -> Body:
        told: Body = self.finance.read(f"{PATH}?from={start}&to={end}&limit=1000{extra}")
        return told


def richer(recipe: Any) -> Body:
    """More of the first line."""
    first, *others = recipe["lines"]
    return {**recipe, "lines": [{**first, "quantity": str(Decimal(first["quantity"]) * 2)}, *others]}


def larger(dish: Any) -> Body:
    """The same lines for fewer portions."""
    return {**dish, "portions": str(Decimal(dish["portions"]) / 2)}


@pytest.fixture(scope="module")
def month(service: RunningService) -> Month:
    month = Month(service.client("admin"))
    _record_prices(month)
    _accept_a_list(month)
    for path, change, start in (("/v1/recipes/red-wine-jus", richer, NEW_RECIPE),
                                ("/v1/dishes/roast-topside", larger, NEW_DISH)):
        record = month.finance.read(path)
        answer = month.finance.put(path, change(record) | {"effective_from": start.isoformat()},
                                   if_match=f'"{record["revision"]}"')
        assert answer.status_code == 200, answer.text
    return month


def _record_prices(month: Month) -> None:
    """Some open, some contracts; no two of an ingredient start on one day."""
    chance, bought = Random(5), kitchen_on(START)
    codes = sorted(bought.prices)
    for number in range(70):
        code, day = chance.choice(codes), START + timedelta(days=number % 30 + 1)
        if any(price["effective_from"] == day.isoformat() for price in month.prices[code]):
            continue
        ingredient = bought.records["ingredients"][code]
        ends = day + timedelta(days=chance.randint(2, 9)) if number % 4 == 0 else None
        supplier = ingredient.get("preferred_supplier", bought.prices[code][0]["supplier"])
        body = {"supplier": supplier, "pack_quantity": "1", "pack_unit": ingredient["base_unit"],
                "amount": rounded(bought.unit_price(code) * chance.randint(80, 125) / 100, 4),
                "effective_from": day.isoformat(), "effective_to": ends and ends.isoformat(),
                "reference": f"Telephone {number}"}
        month.revisions[month.finance.keep(f"/v1/ingredients/{code}/prices", body)["id"]] = body["reference"]
        month.prices[code].append(body)


def _accept_a_list(month: Month) -> None:
    """Several prices by one revision, from a file."""
    target = io.StringIO(newline="")
    csv.writer(target).writerows([("Item code", "Price"), *((item, price) for item, (_, price, _) in LIST.items())])
    sent = month.finance.send_file(f"/v1/price-proposals?supplier=harrowick&effective_from={LIST_STARTS}"
                                   "&file_name=december.csv", target.getvalue().encode())
    assert sent.status_code == 201, sent.text
    accepted = month.finance.post(f"/v1/price-proposals/{sent.json()['id']}/acceptance", {
        "rows": [], "overrides": [{"row": row, "reason": "Agreed by telephone"} for row in range(1, len(LIST) + 1)]})
    assert accepted.status_code == 200, accepted.text
    month.list_revision = accepted.json()["acceptance"]["revision"]
    for code, price, pack in LIST.values():
        month.prices[code].append({"supplier": "harrowick", "amount": price, "pack_quantity": pack, "pack_unit": "kg",
                                   "effective_from": LIST_STARTS.isoformat(), "effective_to": None})


def parts(told: Body) -> dict[str, Decimal]:
    return {name: Decimal(told[name]) for name in ("shares_sum", "rounding", "other")}


def test_every_dish_s_movement_adds_up_to_the_digit_and_both_ends_are_the_judge_s(month: Month) -> None:
    then, now = month.judge(START), month.judge(END)
    told = month.movement(START, END)
    shares: defaultdict[str, Decimal] = defaultdict(Decimal)
    for ingredient in told["data"]:
        for each in ingredient["dishes"]:
            shares[each["dish"]] += Decimal(each["share"])
    assert [dish["dish"] for dish in told["dishes"]] == sorted(then.records["dishes"])
    for dish in told["dishes"]:
        code = dish["dish"]
        assert (dish["status"], dish["food_cost_then"], dish["food_cost_now"]) == (
            "complete", rounded(then.food_cost(code), 4), rounded(now.food_cost(code), 4))
        assert parts(dish)["shares_sum"] == shares[code]
        assert sum(parts(dish).values()) == Decimal(dish["change"])
        assert Decimal(dish["food_cost_then"]) + Decimal(dish["change"]) == Decimal(dish["food_cost_now"])
    moved = [dish["dish"] for dish in told["dishes"] if Decimal(dish["change"])]
    assert len(moved) == len(told["dishes"])


def test_the_menu_adds_up_too_equally_and_by_covers(month: Month) -> None:
    equal = month.movement(START, END)
    covers = {dish["dish"]: 7 * place for place, dish in enumerate(equal["dishes"])}
    weighed = month.finance.post(PATH, {"from": str(START), "to": str(END), "covers": [
        {"dish": code, "covers": sold} for code, sold in covers.items()]}).json()
    for told, sold in ((equal, dict.fromkeys(covers, 1)), (weighed, covers)):
        assert Decimal(told["menu"]["change"]) == sum(
            Decimal(dish["change"]) * sold[dish["dish"]] for dish in told["dishes"])
        assert sum(parts(told["menu"]).values()) == Decimal(told["menu"]["change"])
        assert sum(Decimal(each["menu_share"]) for each in told["data"]) == parts(told["menu"])["shares_sum"]
    assert weighed["dishes"][0]["change"] == equal["dishes"][0]["change"]


def test_every_price_then_and_now_is_the_judge_s_and_every_cause_names_its_record(month: Month) -> None:
    told = month.movement(START, END)
    then, now = month.judge(START), month.judge(END)
    for ingredient in told["data"]:
        code = ingredient["ingredient"]
        assert (ingredient["unit_price_then"], ingredient["unit_price_now"]) == (
            rounded(then.unit_price(code), 4), rounded(now.unit_price(code), 4))
        for cause in ingredient["causes"]:
            day = date.fromisoformat(cause["day"])
            assert (cause["unit_price_before"], cause["unit_price_after"]) == tuple(
                rounded(month.judge(on).unit_price(code), 4) for on in (day - timedelta(days=1), day))
            if cause["revision"] != month.list_revision and cause["price"] in month.revisions:
                assert cause["reference"] == month.revisions[cause["price"]]
    kinds = {cause["kind"] for ingredient in told["data"] for cause in ingredient["causes"]}
    assert kinds == {"price_started", "price_ended"}


def test_prices_of_an_accepted_list_name_the_file(month: Month) -> None:
    told = month.movement(LIST_STARTS - timedelta(days=1), LIST_STARTS)
    listed = {ingredient["ingredient"]: cause for ingredient in told["data"] for cause in ingredient["causes"]
              if cause["revision"] == month.list_revision}
    assert set(listed) <= {code for code, _, _ in LIST.values()}
    assert listed
    assert {cause["file_name"] for cause in listed.values()} == {"december.csv"}


def test_what_is_no_price_is_told_on_its_day_and_on_no_other(month: Month) -> None:
    for day in (START + timedelta(days=days) for days in range(1, 31)):
        told = month.movement(day - timedelta(days=1), day)
        others = {dish["dish"] for dish in told["dishes"] if Decimal(dish["other"])}
        assert bool(others) == (day in (NEW_RECIPE, NEW_DISH)), day
        if day == NEW_DISH:
            assert others == {"roast-topside"}


def test_two_halves_of_a_month_are_the_month(month: Month) -> None:
    """Part by part, wherever it is cut."""
    whole = {dish["dish"]: parts(dish) for dish in month.movement(START, END)["dishes"]}
    for days in (1, 9, 14, 21):
        middle = START + timedelta(days=days)
        halves = [{dish["dish"]: parts(dish) for dish in month.movement(*ends)["dishes"]}
                  for ends in ((START, middle), (middle, END))]
        assert {code: {name: halves[0][code][name] + halves[1][code][name] for name in told}
                for code, told in whole.items()} == whole


def test_the_table_is_the_same_and_adds_up_in_a_pivot(month: Month) -> None:
    told = month.movement(START, END)
    answer = month.finance.get(f"{PATH}?from={START}&to={END}", accept="text/csv")
    by_dish: defaultdict[str, Decimal] = defaultdict(Decimal)
    by_ingredient: defaultdict[str, Decimal] = defaultdict(Decimal)
    for row in csv.DictReader(io.StringIO(answer.text, newline=""), strict=True):
        by_dish[row["dish"]] += Decimal(row["share"])
        by_ingredient[row["ingredient"]] += Decimal(row["share"])
    assert by_dish == {dish["dish"]: Decimal(dish["change"]) for dish in told["dishes"]}
    assert {code: share for code, share in by_ingredient.items() if code} == {
        each["ingredient"]: Decimal(each["menu_share"]) for each in told["data"] if each["dishes"]}


def test_as_known_before_the_month_was_recorded_only_the_demo_s_own_price_moves(month: Month) -> None:
    first = min(int(price.partition("-")[0]) for price in month.revisions)
    told = month.movement(START, END, f"&known_at={first - 1}")
    assert [each["ingredient"] for each in told["data"]] == ["whole-salmon"]


def test_what_was_bought_is_held_to_the_standard_of_a_day(month: Month) -> None:
    """Butter at the list's price against that of the Wednesday; the judge does the same sum."""
    bought = {"ingredient": "butter", "quantity": "35", "unit": "kg", "on": END.isoformat()}
    told = month.finance.post("/v1/purchase-price-variance", {"standard_on": str(START), "purchases": [bought]}).json()
    exact = (month.judge(END).unit_price("butter") - month.judge(START).unit_price("butter")) * 35
    assert told["total"]["variance"] == ("-" if exact < 0 else "") + rounded(abs(exact), 4)
