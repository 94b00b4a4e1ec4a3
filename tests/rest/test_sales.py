"""Sales and theoretical food cost over HTTP: what is refused and where, what is told of codes, when a tag moves."""

import json
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from werkzeug.test import TestResponse

from service import operating, wiring
from service.settings import Settings
from service.use_cases.sales_files import MOST_DAYS, MOST_LINES, MOST_LINES_OF_A_DAY
from tests.rest.small_kitchen import DISH, Kitchen, a_use, small_kitchen

YESTERDAY = "2026-03-01"
LINE = {"pos_code": "7", "quantity": "2", "net_takings": "10.84"}
COST = "/v1/theoretical-food-cost"


def day_of(kitchen: Kitchen, back: int = 1) -> str:
    """A business day before the kitchen's."""
    return (kitchen.ledger.today() - timedelta(days=back)).isoformat()


def send(kitchen: Kitchen, method: str, path: str, body: Any, media_type: str = "application/json") -> TestResponse:
    data = body if isinstance(body, bytes) else body.encode() if isinstance(body, str) else json.dumps(body).encode()
    return kitchen.send(method, path, data, media_type)


def refused(kitchen: Kitchen, path: str, body: Any, *places: str, status: int = 422) -> Any:
    """Refused where it is wrong, with nothing written."""
    head = kitchen.ledger.head()
    method = "POST" if path == "/v1/sales" else "PUT"
    answer = send(kitchen, method, path, body)
    assert answer.status_code == status, answer.text
    told = [error.get("pointer", error.get("parameter")) for error in answer.json["errors"]]
    assert told == list(places), answer.text
    assert kitchen.ledger.head() == head
    return answer.json


def wrong_cells(answer: TestResponse) -> list[tuple[int, str]]:
    assert answer.status_code == 422, answer.text
    return [(error["line"], error["column"]) for error in answer.json["errors"]]


@pytest.mark.parametrize(("line", "member"), [
    ({"pos_code": ""}, "pos_code"), ({"pos_code": "9" * 65}, "pos_code"), ({"pos_code": 7}, "pos_code"),
    ({"quantity": "1e3"}, "quantity"), ({"quantity": None}, "quantity"), ({"quantity": "0.0000001"}, "quantity"),
    ({"net_takings": "1,50"}, "net_takings"), ({"net_takings": None}, "net_takings"),
    ({"kind": "void"}, "kind"), ({"kind": "comp"}, "net_takings"), ({"kind": "staff_meal"}, "net_takings"),
    ({"price": "1"}, "price")])
def test_a_line_that_cannot_be_right_is_pointed_at(kitchen: Kitchen, line: Any, member: str) -> None:
    lines = [LINE, {**LINE, **line}]
    refused(kitchen, f"/v1/sales/{day_of(kitchen)}", {"lines": lines}, f"#/lines/1/{member}")
    dated = [{"business_date": day_of(kitchen), **one} for one in lines]
    refused(kitchen, "/v1/sales", {"lines": dated}, f"#/lines/1/{member}")


def test_what_is_given_away_needs_no_takings_and_what_is_sold_does(kitchen: Kitchen) -> None:
    path = f"/v1/sales/{day_of(kitchen, 2)}"
    given = [{"pos_code": "7", "quantity": "1", "kind": kind, **more} for kind in ("comp", "staff_meal")
             for more in ({}, {"net_takings": "0"}, {"net_takings": None})]
    assert send(kitchen, "PUT", path, {"lines": given}).status_code == 201
    refused(kitchen, path, {"lines": [{"pos_code": "7", "quantity": "1"}]}, "#/lines/0/net_takings")


def test_bodies_are_bounded(kitchen: Kitchen) -> None:
    path = f"/v1/sales/{day_of(kitchen)}"
    told = refused(kitchen, path, {"lines": [LINE] * (MOST_LINES_OF_A_DAY + 1)}, "business_date")
    assert (told["type"], told["at_most"]) == ("/docs/problems/limit-passed", MOST_LINES_OF_A_DAY)
    refused(kitchen, path, {"lines": [LINE] * (MOST_LINES + 1)}, "#/lines")
    dated = [{"business_date": (date(2024, 1, 1) + timedelta(days=number)).isoformat(), **LINE}
             for number in range(MOST_DAYS + 1)]
    answer = send(kitchen, "POST", "/v1/sales", {"lines": dated})
    assert (answer.status_code, answer.json["limit"]) == (422, "dates")
    assert send(kitchen, "PUT", path, b" " * 4_000_001).status_code == 413
    assert send(kitchen, "PUT", path, b"x" * 4_000_001, "text/csv").status_code == 413
    assert send(kitchen, "PUT", path, "<a/>", "application/xml").status_code == 415
    assert send(kitchen, "POST", "/v1/sales", {"lines": []}).status_code == 422


@pytest.mark.parametrize("day", ["2026-13-01", "yesterday", "20260301", "1899-12-31"])
def test_a_date_that_is_none_is_refused_on_a_write_and_not_there_on_a_read(kitchen: Kitchen, day: str) -> None:
    refused(kitchen, f"/v1/sales/{day}", {"lines": [LINE]}, "business_date")
    assert kitchen.client.get(f"/v1/sales/{day}", headers=kitchen.headers).status_code == 404


def test_faults_of_a_table_are_told_with_their_lines_and_columns(kitchen: Kitchen) -> None:
    text = "business_date,pos_code,quantity,net_takings\n2026-03-01,7,x,1\n2026-03-01,7,1,£\n2026-03-01,7,1,1\n"
    answer = send(kitchen, "POST", "/v1/sales", text, "text/csv")
    assert wrong_cells(answer) == [(2, "quantity"), (3, "net_takings")]
    assert wrong_cells(send(kitchen, "POST", "/v1/sales", text.replace("£", "1"), "text/csv")) == [(2, "quantity")]
    tomorrow = (kitchen.ledger.today() + timedelta(days=1)).isoformat()
    ahead = send(kitchen, "POST", "/v1/sales", text.replace("x", "1").replace("£", "1").replace(YESTERDAY, tomorrow),
                 "text/csv")
    assert wrong_cells(ahead) == [(2, "business_date")]


def test_codes_that_do_not_tell_a_dish_are_told_and_kept(kitchen: Kitchen) -> None:
    for code in ("stew", "broth"):
        kitchen.keep(f"/v1/dishes/{code}", {**DISH, "name": code, "pos_code": "88"})
    kitchen.keep("/v1/dishes/gone", {**DISH, "name": "Gone", "pos_code": "99"})
    kitchen.retire(f"/v1/dishes/gone?effective_from={day_of(kitchen, 3)}")
    path = f"/v1/sales/{day_of(kitchen, 3)}"
    sent = send(kitchen, "PUT", path, {"lines": [{**LINE, "pos_code": code} for code in ("88", "99", "new", "88")]})
    told = sent.json["days"][0]
    assert (told["unknown_pos_codes"], told["shared_pos_codes"], told["pos_codes_not_on_menu"]) == (
        ["new"], [{"pos_code": "88", "dishes": ["broth", "stew"]}], [{"pos_code": "99", "dishes": ["gone"]}])
    period = f"{COST}?from={day_of(kitchen, 3)}&to={day_of(kitchen, 3)}"
    cost = kitchen.read(period)
    assert (cost["status"], cost["total"]["food_cost"], cost["total"]["net_takings"]) == ("incomplete", None, "32.5200")
    assert {gap["code"] for gap in cost["gaps"]} == {"pos_code_shared", "pos_code_not_on_menu"}
    kitchen.keep("/v1/dishes/novelty", {**DISH, "name": "Novelty", "pos_code": "new"})
    assert [dish["dish"] for dish in kitchen.read(period)["dishes"]] == ["novelty"]


def test_a_dish_without_a_cost_leaves_null_and_says_what_is_missing(kitchen: Kitchen) -> None:
    kitchen.keep("/v1/ingredients/saffron", {"name": "Saffron", "kind": "spice", "base_unit": "kg"})
    kitchen.keep("/v1/dishes/risotto", {**DISH, "name": "Risotto", "pos_code": "61", "lines": [
        a_use("ingredient saffron"), a_use("cut leg-meat", "0.4")]})
    kitchen.keep("/v1/dishes/roast", {**DISH, "name": "Roast", "pos_code": "62", "lines": [a_use("cut leg-meat")]})
    path = f"/v1/sales/{day_of(kitchen, 0)}"
    sent = send(kitchen, "PUT", path, {"lines": [{**LINE, "pos_code": code} for code in ("61", "62")]})
    assert sent.status_code == 201, sent.text
    cost = kitchen.read(f"{COST}?from={day_of(kitchen, 0)}&to={day_of(kitchen, 0)}")
    total = cost["total"]
    assert (total["food_cost"], total["food_cost_percent"], total["gross_profit"], total["total_cost"]) == (None,) * 4
    assert "saffron" in {gap["record"] for gap in cost["gaps"]}
    roast, risotto = (Decimal(kitchen.read(f"/v1/dish-costs/{dish}")["known_food_cost"])
                      for dish in ("roast", "risotto"))
    assert (total["net_takings"], total["costed_net_takings"]) == ("21.6800", "10.8400")
    assert abs(Decimal(total["known_total_cost"]) - 2 * (roast + risotto)) <= Decimal("0.0002")


@pytest.mark.parametrize(("query", "parameter"), [
    ("from=2026-03-02&to=2026-03-01", "from"), ("from=2025-03-01&to=2026-03-02", "from"), ("from=2026-03-01", "to"),
    ("from=2026-03-01&to=2026-03-01&known_at=999999", "known_at"), ("from=x&to=2026-03-01", "from")])
@pytest.mark.parametrize("path", ["/v1/sales", COST])
def test_a_period_that_cannot_be_is_refused(kitchen: Kitchen, path: str, query: str, parameter: str) -> None:
    answer = kitchen.client.get(f"{path}?{query}", headers=kitchen.headers)
    assert answer.status_code == 422
    assert [error["parameter"] for error in answer.json["errors"]] == [parameter]


def test_a_period_of_a_year_is_read_and_one_without_sales_is_empty(kitchen: Kitchen) -> None:
    told = kitchen.read(f"{COST}?from=2023-03-01&to=2024-02-29")
    assert (told["status"], told["total"]["net_takings"]) == ("complete", "0.0000")
    assert len(told["days_without_sales"]) == 366
    assert (told["total"]["food_cost"], told["total"]["food_cost_percent"], told["days"]) == ("0.0000", None, [])


def test_a_tag_moves_with_sales_of_the_period_and_with_figures_and_with_nothing_else(kitchen: Kitchen) -> None:
    period = f"{COST}?from=2026-01-05&to=2026-01-06"

    def tag() -> str:
        answer = kitchen.client.get(period, headers=kitchen.headers)
        return str(answer.headers["ETag"])

    seen = [tag()]
    assert send(kitchen, "PUT", "/v1/sales/2026-01-07", {"lines": [LINE]}).status_code == 201
    kitchen.put("/v1/suppliers/mill/items/1", {"name": "Item", "ingredient": "leg"})
    assert tag() == seen[0]
    send(kitchen, "PUT", "/v1/sales/2026-01-06", {"lines": [LINE]})
    seen.append(tag())
    send(kitchen, "PUT", "/v1/sales/2026-01-06", {"lines": []})
    seen.append(tag())
    kitchen.keep("/v1/suppliers/mill", {"name": "Mill and Sons"})
    seen.append(tag())
    assert len({*seen}) == 4


def test_a_tag_of_before_a_restore_never_stands_for_other_sales_after_it(tmp_path: Path) -> None:
    """The same revision, the same figures, and sales of the same date that were sent anew, in another sum."""
    period, tags = f"{COST}?from={YESTERDAY}&to={YESTERDAY}", []
    before, after = (Settings(database_url=f"sqlite:///{tmp_path / name}") for name in ("before.db", "after.db"))
    operating.migrate(before)
    with small_kitchen(tmp_path / "before.db") as kitchen:
        operating.backup(before, tmp_path / "kept.jsonl", lambda _rows: None)
        revision = send(kitchen, "PUT", f"/v1/sales/{YESTERDAY}", {"lines": [LINE]}).json["revision"]
        tags.append(kitchen.client.get(period, headers=kitchen.headers).headers["ETag"])
        operating.migrate(after)
        operating.restore(after, tmp_path / "kept.jsonl", lambda _rows: None)
        with operating.opened_ledger(after) as ledger:
            kitchen.client = wiring.app_on(ledger, after).test_client()
            sent = send(kitchen, "PUT", f"/v1/sales/{YESTERDAY}", {"lines": [{**LINE, "net_takings": "11"}]})
            assert sent.json["revision"] == revision
            tags.append(kitchen.client.get(period, headers=kitchen.headers).headers["ETag"])
    assert tags[0] != tags[1]
