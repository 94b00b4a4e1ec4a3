"""Finance: a messy list of 300 rows, in two locales, is proposed, reviewed and in part accepted, by two people.

The files are written here; what each row is to be found to be stands beside it in messy_list.py.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from tests.stories.messy_list import SUPPLIER, ListedRow, british, german, messy_rows, prepare
from tests.stories.running_service import MONDAY, WEDNESDAY, Client, RunningService

PROPOSALS = "/v1/price-proposals"
STARTS = MONDAY
DAYS = (WEDNESDAY - timedelta(days=7), WEDNESDAY, MONDAY, MONDAY + timedelta(days=30))
LISTS = ("/v1/dish-costs", "/v1/cut-costs", "/v1/recipe-costs")


@dataclass(frozen=True)
class Sent:
    """The service once the list has been proposed, and the figures before anything was accepted."""

    service: RunningService
    finance: Client
    approver: Client
    rows: list[ListedRow]
    british: dict[str, Any]
    german: dict[str, Any]
    revision_before: int
    figures_before: dict[str, Any]


@pytest.fixture(scope="module")
def sent(service: RunningService) -> Sent:
    finance = service.client("read", "prices:write", "kitchen:write")
    approver = service.client("read", "prices:approve")
    prepare(finance)
    before = {f"{path}?as_of={day}": finance.read(f"{path}?as_of={day}")["data"] for path in LISTS for day in DAYS}
    revision_before = finance.head_revision()
    rows = messy_rows()
    return Sent(service, finance, approver, rows, _proposed(finance, british(rows), "winter.csv"),
                _proposed(finance, german(rows), "winter-de.csv"), revision_before, before)


def test_a_draft_takes_no_revision_and_moves_nothing(sent: Sent) -> None:
    assert sent.finance.head_revision() == sent.revision_before
    assert sent.finance.read("/v1/dish-costs")["data"] == sent.figures_before[f"/v1/dish-costs?as_of={WEDNESDAY}"]


def test_every_row_is_found_to_be_what_it_is(sent: Sent) -> None:
    found = [tuple(finding["code"] for finding in row["findings"]) for row in _rows(sent.finance, sent.british)]
    assert [(number, sorted(codes)) for number, codes in enumerate(found, 1)] == [
        (number, sorted(row.found)) for number, row in enumerate(sent.rows, 1)]
    assert sent.british["counts"]["rows"] == 300


def test_two_locales_say_the_same(sent: Sent) -> None:
    layout = sent.german["layout"]
    assert (layout["decimal_mark"], layout["delimiter"], layout["encoding"], layout["header_line"]) == (
        ",", ";", "windows-1252", 5)
    as_british = [_but_for_the_writing(row) for row in _rows(sent.finance, sent.british)]
    as_german = [_but_for_the_writing(row) for row in _rows(sent.finance, sent.german)]
    assert as_british == as_german
    assert sent.british["counts"] == sent.german["counts"]


def test_each_row_says_its_price_the_one_in_force_and_the_change(sent: Sent) -> None:
    butter = next(row for row in _rows(sent.finance, sent.british) if row["item"] == "V-butter")
    # 68.00 for 10 kg is 6.80 a kg; 4 % more is 70.72 for 10 kg
    assert (butter["price_in_force"], butter["unit_price"]) == ("6.8000", "7.0720")
    assert (butter["change"], butter["change_percent"]) == ("0.2720", "4.00")
    assert Decimal(butter["menu_effect"]) > 0
    assert butter["dishes"] > 0


def test_an_unknown_item_comes_with_the_closest_names(sent: Sent) -> None:
    row = _rows(sent.finance, sent.british, "?finding=unknown_item")[0]
    assert {"kind": "ingredient", "code": "shallot"} in row["findings"][0]["closest"]


def test_rows_are_filtered_and_sorted(sent: Sent) -> None:
    rows = _rows(sent.finance, sent.british)
    blocked = _rows(sent.finance, sent.british, "?standing=blocked")
    assert [row["row"] for row in blocked] == [row["row"] for row in rows if row["standing"] == "blocked"]
    by_effect = [abs(Decimal(row["menu_effect"])) for row in _rows(sent.finance, sent.british, "?sort=effect")
                 if row["menu_effect"] is not None]
    assert by_effect == sorted(by_effect, reverse=True)
    assert by_effect[0] > 0
    by_change = [abs(Decimal(row["change_percent"])) for row in _rows(sent.finance, sent.british, "?sort=change")
                 if row["change_percent"] is not None]
    assert by_change == sorted(by_change, reverse=True)


def test_the_same_file_again_is_the_same_proposal(sent: Sent) -> None:
    again = sent.finance.send_file(_address("winter.csv"), british(sent.rows))
    assert again.status_code == 200
    assert again.json()["id"] == sent.british["id"]
    assert sent.finance.read(PROPOSALS)["data"][0]["id"] == sent.german["id"]


def test_who_uploads_may_not_accept_and_who_accepts_may_not_upload(sent: Sent) -> None:
    refused = sent.finance.post(f"{PROPOSALS}/{sent.german['id']}/acceptance", {})
    assert (refused.status_code, refused.json()["scope"]) == (403, "prices:approve")
    refused = sent.approver.send_file(_address("other.csv"), b"Item,Price\r\nV-butter,70.00\r\n")
    assert (refused.status_code, refused.json()["scope"]) == (403, "prices:write")


def test_rows_that_cannot_be_taken_are_named_and_nothing_is_recorded(sent: Sent) -> None:
    numbers = {row["findings"][0]["code"]: row["row"] for row in _rows(sent.finance, sent.british) if row["findings"]}
    body = {"rows": [numbers["unknown_item"], numbers["pack_differs"], 301, numbers["price_unchanged"]],
            "overrides": [{"row": numbers["unreadable_row"], "reason": "Read it out on the telephone"}]}
    refused = sent.approver.post(f"{PROPOSALS}/{sent.british['id']}/acceptance", body)
    assert refused.status_code == 422
    assert [error["pointer"] for error in refused.json()["errors"]] == [
        "#/rows/0", "#/rows/1", "#/rows/2", "#/rows/3", "#/overrides/0/row"]
    assert sent.finance.head_revision() == sent.revision_before


def test_the_other_locale_is_rejected_and_closed(sent: Sent) -> None:
    rejected = sent.approver.post(f"{PROPOSALS}/{sent.british['id']}/rejection", {"reason": "Sent twice."})
    assert rejected.status_code == 200
    assert (rejected.json()["state"], rejected.json()["rejection"]["reason"]) == ("rejected", "Sent twice.")
    again = sent.approver.post(f"{PROPOSALS}/{sent.british['id']}/acceptance", {})
    assert (again.status_code, again.json()["type"]) == (409, "/docs/problems/proposal-closed")


def test_a_proposal_whose_base_has_changed_asks_for_another_look(sent: Sent) -> None:
    price = {"supplier": SUPPLIER, "amount": "6.90", "pack_quantity": "1", "pack_unit": "kg",
             "reference": "By telephone"}
    assert sent.finance.post("/v1/ingredients/butter/prices", price).status_code == 201
    butter = next(row["row"] for row in _rows(sent.finance, sent.german) if row["item"] == "V-butter")
    stale = sent.finance.read(f"{PROPOSALS}/{sent.german['id']}")
    assert (stale["out_of_date"], stale["moved_rows"]) == (True, [butter])
    refused = sent.approver.post(f"{PROPOSALS}/{sent.german['id']}/acceptance", {})
    assert (refused.status_code, refused.json()["type"]) == (409, "/docs/problems/proposal-out-of-date")
    assert refused.json()["rows"] == [butter]
    withdrawn = sent.finance.read("/v1/ingredients/butter/prices")["data"][0]["id"]
    assert sent.finance.post(f"/v1/ingredients/butter/prices/{withdrawn}/withdrawal",
                             {"reason": "Misheard."}).status_code == 200
    looked = sent.finance.post(f"{PROPOSALS}/{sent.german['id']}/look", {})
    assert (looked.json()["out_of_date"], looked.json()["looks"]) == (False, 2)


def test_the_clean_rows_become_prices_in_one_revision_and_do_what_was_foretold(sent: Sent) -> None:
    foretold = sent.finance.read(f"{PROPOSALS}/{sent.german['id']}")
    head = sent.finance.head_revision()
    accepted = sent.approver.post(f"{PROPOSALS}/{sent.german['id']}/acceptance", {})
    assert accepted.status_code == 200, accepted.text
    acceptance = accepted.json()["acceptance"]
    assert acceptance["revision"] == head + 1 == sent.finance.head_revision()
    assert acceptance["accepted"] == foretold["counts"]["clean"]
    assert acceptance["left"] == 300 - foretold["counts"]["clean"]
    effect = foretold["effect"]
    assert effect["dishes_moved"] == len(effect["dishes"]) > 0
    costs = {row["dish"]: row for row in sent.finance.read(f"/v1/dish-costs?as_of={effect['as_of']}")["data"]}
    for dish in effect["dishes"]:
        assert costs[dish["dish"]]["food_cost"] == dish["food_cost_after"]
        assert costs[dish["dish"]]["food_cost_percent"] == dish["food_cost_percent_after"]
    before = {row["dish"]: row for row in sent.figures_before[f"/v1/dish-costs?as_of={MONDAY}"]}
    moved = {code for code, row in costs.items() if row["food_cost"] != before[code]["food_cost"]}
    assert moved == {dish["dish"] for dish in effect["dishes"] if dish["change"] != "0.0000"}


def test_refused_rows_stay_visible_and_accepted_ones_name_their_price(sent: Sent) -> None:
    rows = _rows(sent.finance, sent.german)
    assert {row["decision"] for row in rows} == {"accepted", "left"}
    butter = next(row for row in rows if row["item"] == "V-butter")
    history = sent.finance.read("/v1/ingredients/butter/prices")["data"]
    assert butter["price"] == history[0]["id"]
    assert (history[0]["amount"], history[0]["pack_quantity"], history[0]["effective_from"]) == (
        "70.72", "10", STARTS.isoformat())
    entry = [entry for entry in _entries(sent.finance) if entry["kind"] == "price_proposal"][-1]
    assert (entry["record"]["file_name"], entry["action"]) == ("winter-de.csv", "accept_proposal")


def test_all_figures_before_reproduce_by_known_at(sent: Sent) -> None:
    for asked, before in sent.figures_before.items():
        assert sent.finance.read(f"{asked}&known_at={sent.revision_before}")["data"] == before


def test_every_dishs_movement_is_explained_to_the_digit(sent: Sent) -> None:
    told = sent.finance.read(f"/v1/price-movements?from={WEDNESDAY}&to={MONDAY + timedelta(days=30)}&limit=1000")
    start, end = (_food_costs(sent.finance, day) for day in (WEDNESDAY, MONDAY + timedelta(days=30)))
    shares: dict[str, Decimal] = {}
    for ingredient in told["data"]:
        for share in ingredient["dishes"]:
            shares[share["dish"]] = shares.get(share["dish"], Decimal(0)) + Decimal(share["share"])
    moved = 0
    for dish in told["dishes"]:
        whole = Decimal(end[dish["dish"]]) - Decimal(start[dish["dish"]])
        parts = shares.get(dish["dish"], Decimal(0)) + Decimal(dish["rounding"]) + Decimal(dish["other"])
        assert parts == whole == Decimal(dish["change"])
        moved += whole != 0
    assert moved > 5
    butter = next(one for one in told["data"] if one["ingredient"] == "butter")
    assert [(cause["file_name"], cause["who"]) for cause in butter["causes"]] == [
        ("winter-de.csv", "read prices:approve")]


def test_the_next_list_misses_what_is_no_longer_on_it(sent: Sent) -> None:
    shorter = [row for row in sent.rows if row.item not in ("V-butter", "V-milk")]
    proposed = _proposed(sent.finance, german(shorter), "spring.csv")
    assert [item["item"] for item in proposed["missing_items"]] == ["V-butter", "V-milk"]
    assert proposed["counts"]["missing_items"] == 2


def _address(file_name: str, starts: date | None = STARTS) -> str:
    when = f"&effective_from={starts}" if starts else ""
    return f"{PROPOSALS}?supplier={SUPPLIER}{when}&file_name={file_name}"


def _proposed(finance: Client, content: bytes, file_name: str) -> dict[str, Any]:
    answer = finance.send_file(_address(file_name), content)
    assert answer.status_code == 201, answer.text
    assert answer.headers["Location"] == f"{PROPOSALS}/{answer.json()['id']}"
    return answer.json()


def _rows(client: Client, proposal: dict[str, Any], asked: str = "?") -> list[dict[str, Any]]:
    """All rows, page by page."""
    path = f"{PROPOSALS}/{proposal['id']}/rows{asked}&limit=120".replace("?&", "?")
    page = client.read(path)
    rows = page["data"]
    while page["next_cursor"]:
        page = client.read(f"{path}&cursor={page['next_cursor']}")
        rows += page["data"]
    return rows


def _but_for_the_writing(row: dict[str, Any]) -> dict[str, Any]:
    """A row without what depends on how its file was written."""
    findings = [finding["code"] for finding in row["findings"]]
    return {name: value for name, value in row.items() if name not in ("place", "amount_text")} | {"findings": findings}


def _entries(client: Client) -> list[dict[str, Any]]:
    page = client.read("/v1/changes?limit=1000")
    entries = page["data"]
    while page["more"]:
        page = client.read(f"/v1/changes?limit=1000&after={page['next_cursor']}")
        entries += page["data"]
    return entries


def _food_costs(client: Client, day: date) -> dict[str, str]:
    return {row["dish"]: row["food_cost"] for row in client.read(f"/v1/dish-costs?as_of={day}")["data"]}
