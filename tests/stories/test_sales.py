"""Sales: the POS sends what it sold and corrects it; finance reads what it should have cost. Judges: the naive kitchen,
line by line in plain fractions, and the csv module.
"""

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from typing import Any

import pytest
import requests

from tests.cli.naive_kitchen import NaiveKitchen
from tests.stories.expected_figures import kitchen_on, rounded, with_price
from tests.stories.running_service import WEDNESDAY, Client, RunningService

MONDAY, TUESDAY = WEDNESDAY - timedelta(days=2), WEDNESDAY - timedelta(days=1)
DEARER = "21.40"
Body = dict[str, Any]
Line = tuple[str, str, str, str]
SOLD: dict[date, list[Line]] = {
    MONDAY: [("1042", "12", "219.96", "sale"), ("1042", "-1", "-18.33", "sale"), ("1048", "7.5", "99.975", "sale"),
             ("1048", "2", "0", "comp"), ("1053", "3", "0", "staff_meal"), ("beer", "40", "160", "sale")],
    TUESDAY: [("1042", "9", "164.97", "sale"), ("1044", "20", "316.6", "sale"), ("1044", "-2", "-31.66", "sale"),
              ("1042", "1", "0", "comp")]}
NAMES = ("pos_code", "quantity", "net_takings", "kind")


@dataclass
class Restaurant:
    """The service, the POS and finance, and what revisions said."""

    service: RunningService
    till: Client
    finance: Client

    def send(self, method: str, path: str, content: str, media_type: str = "text/csv") -> requests.Response:
        headers = {"Authorization": f"Bearer {self.till.key}", "Content-Type": media_type}
        answer = self.till.session.request(method, self.till.address + path, data=content.encode(), timeout=60,
                                           headers=headers)
        self.till.validator.check_answer(method, path.partition("?")[0], answer.status_code,
                                         answer.headers.get("Content-Type", ""), answer.content)
        return answer

    def cost(self, first: date, last: date, more: str = "") -> Body:
        told: Body = self.finance.read(f"/v1/theoretical-food-cost?from={first}&to={last}{more}")
        return told


@pytest.fixture(scope="module")
def restaurant(service: RunningService) -> Restaurant:
    return Restaurant(service, service.client("sales:write"), service.client("read"))


def lines(day: date) -> list[Body]:
    return [dict(zip(NAMES, line, strict=True)) for line in SOLD[day]]


def table(days: Iterable[date], delimiter: str = ",", comma: bool = False) -> str:
    """The sales as the csv module writes them."""
    written = io.StringIO(newline="")
    writer = csv.writer(written, delimiter=delimiter)
    writer.writerow(("business_date", *NAMES))
    for day in days:
        for code, quantity, takings, kind in SOLD[day]:
            numbers = (each.replace(".", ",") if comma else each for each in (quantity, takings))
            writer.writerow((day.isoformat(), code, *numbers, kind))
    return written.getvalue()


def judge(day: date) -> NaiveKitchen:
    kitchen = kitchen_on(day)
    return with_price(kitchen, "beef-topside", DEARER, TUESDAY) if day >= TUESDAY else kitchen


def should_cost(days: Iterable[date], *kinds: str) -> Fraction:
    """What these lines should have cost, one by one, each at its day's costs."""
    total = Fraction(0)
    for day in days:
        kitchen = judge(day)
        bearers = {dish["pos_code"]: code for code, dish in kitchen.records["dishes"].items()}
        total += sum((Fraction(quantity) * kitchen.food_cost(bearers[code]) for code, quantity, _, kind in SOLD[day]
                      if kind in kinds and code in bearers), Fraction(0))
    return total


def took(days: Iterable[date]) -> Fraction:
    return sum((Fraction(takings) for day in days for code, _, takings, _ in SOLD[day] if code != "beer"), Fraction(0))


def feed(client: Client) -> list[Body]:
    """The whole ledger, page by page."""
    page = client.read("/v1/changes?limit=1000")
    entries = list(page["data"])
    while page["more"]:
        page = client.read(f"/v1/changes?limit=1000&after={page['next_cursor']}")
        entries += page["data"]
    return entries


def test_the_pos_sends_a_day_sends_it_again_and_corrects_it(restaurant: Restaurant) -> None:
    till, finance, path = restaurant.till, restaurant.finance, f"/v1/sales/{MONDAY}"
    costs = finance.get("/v1/dish-costs").headers["ETag"]
    slip = [{**line, "quantity": "11"} if line["pos_code"] == "1048" else line for line in lines(MONDAY)]
    first = till.put(path, {"lines": slip})
    assert first.status_code == 201, first.text
    told = first.json()["days"][0]
    assert (told["outcome"], told["unknown_pos_codes"], told["line_count"]) == ("recorded", ["beer"], len(slip))
    head = finance.head_revision()
    assert told["revision"] == first.json()["revision"] == head
    for again in (slip, slip[::-1], [{**line, "net_takings": float(line["net_takings"])} for line in slip]):
        answer = till.put(path, {"lines": again})
        assert (answer.status_code, answer.json()["days"][0]["outcome"]) == (200, "unchanged")
    assert finance.head_revision() == head
    corrected = till.put(path, {"lines": lines(MONDAY)})
    assert (corrected.status_code, corrected.json()["days"][0]["outcome"]) == (200, "replaced")
    assert corrected.json()["revision"] == head + 1
    assert finance.read(f"{path}?known_at={head}")["lines"] == slip
    assert finance.read(path)["lines"] == lines(MONDAY)
    assert finance.get("/v1/dish-costs", if_none_match=costs).status_code == 304
    recorded = [entry for entry in feed(finance) if entry["kind"] == "sales"]
    assert [(entry["code"], entry["action"], entry["record"]["lines"]) for entry in recorded] == [
        (MONDAY.isoformat(), "record_sales", slip), (MONDAY.isoformat(), "record_sales", lines(MONDAY))]


def test_the_pos_sends_two_days_as_a_table_however_it_is_written(restaurant: Restaurant) -> None:
    answer = restaurant.send("POST", "/v1/sales", table(SOLD, ";", comma=True))
    assert answer.status_code == 201, answer.text
    assert [day["outcome"] for day in answer.json()["days"]] == ["unchanged", "recorded"]
    head = restaurant.finance.head_revision()
    for written, query in ((table(SOLD), ""), (table(SOLD, "\t"), ""), ("\ufeff" + table(SOLD), ""),
                           (table(SOLD, ";"), "?decimal=point"), (table(SOLD, ",", comma=True), "?decimal=comma")):
        again = restaurant.send("POST", f"/v1/sales{query}", written)
        assert [day["outcome"] for day in again.json()["days"]] == ["unchanged"] * 2, again.text
    assert restaurant.finance.head_revision() == head


def test_what_finance_downloads_can_be_sent_again(restaurant: Restaurant) -> None:
    asked = f"/v1/sales?from={MONDAY}&to={TUESDAY}"
    answer = restaurant.finance.get(asked, accept="text/csv")
    rows = list(csv.DictReader(io.StringIO(answer.text, newline="")))
    assert [tuple(row[name] for name in NAMES) for row in rows] == [*SOLD[MONDAY], *SOLD[TUESDAY]]
    again = restaurant.send("POST", "/v1/sales", answer.text)
    assert [day["outcome"] for day in again.json()["days"]] == ["unchanged"] * 2
    by_day = restaurant.send("PUT", f"/v1/sales/{TUESDAY}", table([TUESDAY]))
    assert by_day.json()["days"][0]["outcome"] == "unchanged"
    listed = restaurant.finance.everything(f"{asked}&limit=1")
    assert [(day["business_date"], day["line_count"]) for day in listed] == [
        (str(day), len(sold)) for day, sold in SOLD.items()]


def test_a_period_costs_what_its_lines_cost_each_at_its_day_s_prices(restaurant: Restaurant) -> None:
    before = restaurant.finance.head_revision()
    then = restaurant.cost(MONDAY, TUESDAY)
    restaurant.service.admin.keep("/v1/ingredients/beef-topside/prices", {
        "supplier": kitchen_on(MONDAY).records["ingredients"]["beef-topside"]["preferred_supplier"], "amount": DEARER,
        "pack_quantity": "1", "pack_unit": "kg", "effective_from": TUESDAY.isoformat()})
    told = restaurant.cost(MONDAY, TUESDAY)
    for figures, days in ((told["total"], [MONDAY, TUESDAY]), (told["days"][0], [MONDAY]),
                          (told["days"][1], [TUESDAY])):
        cost, takings = should_cost(days, "sale"), took(days)
        assert figures["food_cost"] == rounded(cost, 4)
        assert figures["comp_cost"] == rounded(should_cost(days, "comp"), 4)
        assert figures["staff_meal_cost"] == rounded(should_cost(days, "staff_meal"), 4)
        whole = should_cost(days, "sale", "comp", "staff_meal")
        assert figures["total_cost"] == figures["known_total_cost"] == rounded(whole, 4)
        assert figures["net_takings"] == rounded(takings, 4)
        assert figures["food_cost_percent"] == rounded(100 * cost / takings, 2)
        assert figures["total_cost_percent"] == rounded(100 * whole / takings, 2)
        assert figures["gross_profit"] == rounded(takings - cost, 4)
    assert told["days"][0] == then["days"][0]
    assert Fraction(told["days"][1]["food_cost"]) > Fraction(then["days"][1]["food_cost"])
    assert (told["status"], told["gaps"], told["days_without_sales"]) == ("complete", [], [])
    assert restaurant.cost(MONDAY, TUESDAY, f"&known_at={before}") == then
    assert restaurant.cost(MONDAY, TUESDAY, f"&known_at={told['revision']}") == told


def test_the_menu_s_mix_and_target_are_those_of_what_was_sold(restaurant: Restaurant) -> None:
    told = restaurant.cost(MONDAY, TUESDAY)
    portions = {"grilled-cap": Fraction(20), "beef-pie": Fraction("7.5"), "roast-topside": Fraction(18)}
    by_dish = {dish["dish"]: dish for dish in told["dishes"]}
    assert by_dish.keys() == portions.keys() | {"stuffed-chicken-leg"}
    for code, sold in portions.items():
        assert Fraction(by_dish[code]["sold"]) == sold
        assert by_dish[code]["menu_mix_percent"] == rounded(100 * sold / sum(portions.values()), 2)
    assert {row["section"]: Fraction(row["sold"]) for row in told["sections"]} == {
        "grill": 20, "stove": Fraction("7.5"), "roast": 18}
    assert told["total"]["target_food_cost_percent"] == "30.00"
    assert told["total"]["within_target"] == (Fraction(told["total"]["food_cost_percent"]) <= 30)
    drinks, = told["pos_codes_without_dish"]
    assert (drinks["pos_code"], drinks["reason"], drinks["in_figures"], drinks["net_takings"]) == (
        "beer", "unknown", False, "160.0000")


def test_the_table_says_the_same(restaurant: Restaurant) -> None:
    told = restaurant.cost(MONDAY, TUESDAY)
    answer = restaurant.finance.get(f"/v1/theoretical-food-cost?from={MONDAY}&to={TUESDAY}", accept="text/csv")
    rows = list(csv.DictReader(io.StringIO(answer.text, newline="")))
    assert [row["part"] for row in rows] == ["total", "day", "day", *["section"] * 3, *["dish"] * 4, "pos_code"]
    parts = [told["total"], *told["days"], *told["sections"], *told["dishes"], *told["pos_codes_without_dish"]]
    for row, part in zip(rows, parts, strict=True):
        assert {name: row[name] for name, value in part.items() if name in row and isinstance(value, str)} == {
            name: value for name, value in part.items() if name in row and isinstance(value, str)}


def test_every_worker_tells_the_same_and_a_poll_that_has_it_gets_304(restaurant: Restaurant) -> None:
    asked = f"/v1/theoretical-food-cost?from={MONDAY}&to={TUESDAY}"
    tags = set()
    for client in restaurant.service.clients_of_every_worker(restaurant.finance).values():
        answer = client.get(asked)
        tags.add(answer.headers["ETag"])
        assert client.get(asked, if_none_match=answer.headers["ETag"]).status_code == 304
    assert len(tags) == 1
    sent = restaurant.till.put(f"/v1/sales/{MONDAY - timedelta(days=7)}", {"lines": lines(MONDAY)})
    assert sent.status_code == 201
    assert restaurant.finance.get(asked, if_none_match=tags.pop()).status_code == 304


def test_a_day_to_come_and_a_closed_day_are_refused_and_a_repeat_is_not(restaurant: Restaurant) -> None:
    till, admin = restaurant.till, restaurant.service.admin
    ahead = till.put(f"/v1/sales/{WEDNESDAY + timedelta(days=1)}", {"lines": lines(MONDAY)})
    assert (ahead.status_code, ahead.json()["errors"][0]["parameter"]) == (422, "business_date")
    settings = admin.read("/v1/settings")
    kept = admin.put("/v1/settings", settings | {"closed_through": MONDAY.isoformat()},
                     if_match=f'"{settings["revision"]}"')
    assert kept.status_code == 200, kept.text
    for day in (MONDAY, MONDAY - timedelta(days=1)):
        refused = till.put(f"/v1/sales/{day}", {"lines": []})
        assert (refused.status_code, refused.json()["type"]) == (422, "/docs/problems/period-closed"), refused.text
    together = till.post("/v1/sales", {"lines": [
        {"business_date": str(day), **line} for day in (TUESDAY, MONDAY) for line in lines(TUESDAY)]})
    assert together.status_code == 422
    assert [error["pointer"] for error in together.json()["errors"]] == [f"#/lines/{len(SOLD[TUESDAY])}/business_date"]
    assert till.put(f"/v1/sales/{MONDAY}", {"lines": lines(MONDAY)}).json()["days"][0]["outcome"] == "unchanged"
    assert restaurant.cost(MONDAY, TUESDAY)["status"] == "complete"


def test_a_late_repeat_under_its_key_does_not_undo_a_correction(restaurant: Restaurant) -> None:
    till, path = restaurant.till, f"/v1/sales/{WEDNESDAY}"
    first = till.put(path, {"lines": lines(MONDAY)}, idempotency_key='"till-7-1"')
    assert till.put(path, {"lines": lines(TUESDAY)}).json()["days"][0]["outcome"] == "replaced"
    late = till.put(path, {"lines": lines(MONDAY)}, idempotency_key='"till-7-1"')
    assert (late.json(), late.headers["Idempotency-Replayed"]) == (first.json(), "true")
    assert restaurant.finance.read(path)["lines"] == lines(TUESDAY)


def test_keys_open_what_they_are_for(restaurant: Restaurant) -> None:
    assert restaurant.till.get(f"/v1/sales/{MONDAY}").status_code == 403
    assert restaurant.finance.put(f"/v1/sales/{MONDAY}", {"lines": []}).status_code == 403
    costs = restaurant.service.client("costs:read")
    assert costs.get(f"/v1/theoretical-food-cost?from={MONDAY}&to={TUESDAY}").status_code == 403
