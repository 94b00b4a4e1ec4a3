"""Price proposals: what bad input gets, and that nothing is lost or half-done by it. Files are written here."""

import time

import pytest
from werkzeug.test import TestResponse

from service.rest.resources import price_proposals
from service.use_cases.ledger_unavailable import LedgerUnavailable
from tests.rest.small_kitchen import Kitchen

PROPOSALS = "/v1/price-proposals"
LIST = b"Item code,Description,Unit,Price\r\nEGG-30,Eggs,each,0.21\r\nNO-1,Nothing,kg,1.00\r\n"
QUERY = "?supplier=farm&effective_from=2027-01-04&file_name=list.csv"


@pytest.fixture(scope="module")
def shop(kitchen: Kitchen) -> Kitchen:
    """The small kitchen with a supplier, whose eggs come in trays of thirty."""
    kitchen.keep("/v1/suppliers/farm", {"name": "Farm"})
    kitchen.keep("/v1/suppliers/farm/items/EGG-30", {
        "name": "Eggs, tray", "ingredient": "egg",
        "pack": {"name": "tray", "count": "1", "quantity": "30", "unit": "each"}})
    return kitchen


def sent(shop: Kitchen, query: str = QUERY, content: bytes = LIST, media_type: str = "text/csv") -> TestResponse:
    return shop.client.post(PROPOSALS + query, data=content, content_type=media_type, headers=shop.headers)


def proposed(shop: Kitchen, name: str) -> str:
    """A proposal of its own for each test: the same rows in a file that no other test sends."""
    answer = sent(shop, QUERY.replace("list.csv", name), LIST + f",{name},,\r\n".encode())
    assert answer.status_code == 201, answer.text
    return str(answer.json["id"])


@pytest.mark.parametrize(("query", "content", "media_type", "status", "slug"), [
    ("?effective_from=2027-01-04", LIST, "text/csv", 422, "wrong-value"),
    (QUERY.replace("farm", "nobody"), LIST, "text/csv", 422, "unknown-reference"),
    (QUERY + "&spread_charges=perhaps", LIST, "text/csv", 422, "wrong-value"),
    (QUERY + "&colour=red", LIST, "text/csv", 422, "unknown-parameter"),
    ("?supplier=farm", LIST, "text/csv", 422, "wrong-value"),
    (QUERY, LIST, "application/json", 415, "unsupported-media-type"),
    (QUERY, b"", "text/csv", 422, "unreadable-file"),
    (QUERY, b"Item code,Price\r\n", "text/csv", 422, "unreadable-file"),
    (QUERY, b"\x00\x01\x02\x03" * 99, "text/csv", 422, "unreadable-file"),
    (QUERY, b"alpha,beta\r\n1,2\r\n", "text/csv", 422, "columns-not-recognised"),
    (QUERY, b"x" * (20_000_001), "text/csv", 413, "body-too-large"),
])
def test_what_is_no_price_list_is_refused_and_leaves_nothing(
    shop: Kitchen, query: str, content: bytes, media_type: str, status: int, slug: str,
) -> None:
    before, head = shop.read(PROPOSALS)["data"], shop.ledger.head()
    answer = sent(shop, query, content, media_type)
    assert (answer.status_code, answer.json["type"]) == (status, f"/docs/problems/{slug}"), answer.text
    assert answer.json["detail"].endswith(".")
    assert (shop.read(PROPOSALS)["data"], shop.ledger.head()) == (before, head)


def test_columns_that_cannot_be_told_are_asked_for_once_and_remembered(shop: Kitchen) -> None:
    odd = b"alpha,beta,gamma\r\nEGG-30,0.22,each\r\n"
    refused = sent(shop, content=odd)
    assert refused.json["columns"] == ["alpha", "beta", "gamma"]
    assert "price" in refused.json["missing"]
    named = sent(shop, f"{QUERY}&item_column=alpha&price_column=beta&unit_column=gamma", odd)
    assert named.status_code == 201, named.text
    assert [column["means"] for column in named.json["layout"]["columns"]] == ["item", "price", "unit"]
    again = sent(shop, content=odd.replace(b"0.22", b"0.23"))
    assert again.status_code == 201, again.text
    assert again.json["counts"]["blocked"] == 0


@pytest.mark.parametrize("path", ["/0", "/999999", "/none", "/12345678901", "/1/rows/2"])
def test_a_proposal_that_is_not_there_is_not_found(shop: Kitchen, path: str) -> None:
    assert shop.client.get(PROPOSALS + path, headers=shop.headers).status_code == 404


def test_an_acceptance_of_nothing_is_refused(shop: Kitchen) -> None:
    blocked = sent(shop, content=b"Item code,Unit,Price\r\nNO-2,kg,1.00\r\n").json["id"]
    answer = shop.client.post(f"{PROPOSALS}/{blocked}/acceptance", json={}, headers=shop.headers)
    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "#/rows")


def test_rows_named_twice_or_beside_the_list_are_told_with_their_place(shop: Kitchen) -> None:
    number = proposed(shop, "twice.csv")
    answer = shop.client.post(f"{PROPOSALS}/{number}/acceptance", json={"rows": [1, 1, 77]}, headers=shop.headers)
    assert [error["pointer"] for error in answer.json["errors"]] == ["#/rows/1", "#/rows/2"]


def test_an_acceptance_repeated_under_its_idempotency_key_records_once(shop: Kitchen) -> None:
    number = proposed(shop, "once.csv")
    headers = shop.headers | {"Idempotency-Key": '"once-accepted"'}
    first = shop.client.post(f"{PROPOSALS}/{number}/acceptance", json={}, headers=headers)
    head = shop.ledger.head()
    again = shop.client.post(f"{PROPOSALS}/{number}/acceptance", json={}, headers=headers)
    assert (first.status_code, again.status_code) == (200, 200)
    assert (again.headers["Idempotency-Replayed"], shop.ledger.head()) == ("true", head)
    assert first.json["acceptance"] == again.json["acceptance"]


def test_a_cursor_of_before_another_look_is_refused(shop: Kitchen) -> None:
    number = proposed(shop, "looked.csv")
    page = shop.read(f"{PROPOSALS}/{number}/rows?limit=1")
    shop.keep("/v1/suppliers/farm", {"name": "Farm shop"})
    assert shop.client.post(f"{PROPOSALS}/{number}/look", json={}, headers=shop.headers).status_code == 200
    stale = shop.client.get(f"{PROPOSALS}/{number}/rows?limit=1&cursor={page['next_cursor']}", headers=shop.headers)
    assert (stale.status_code, stale.json["type"]) == (422, "/docs/problems/wrong-cursor")


def test_an_item_mapped_since_makes_its_row_clean_at_the_next_look(shop: Kitchen) -> None:
    number = proposed(shop, "mapped.csv")
    assert shop.read(f"{PROPOSALS}/{number}/rows")["data"][1]["findings"][0]["code"] == "unknown_item"
    shop.keep("/v1/suppliers/farm/items/NO-1", {
        "name": "Nothing", "ingredient": "leg", "pack": {"name": "bag", "count": "1", "quantity": "1", "unit": "kg"}})
    stale = shop.read(f"{PROPOSALS}/{number}")
    assert (stale["out_of_date"], stale["moved_rows"]) == (True, [2])
    shop.client.post(f"{PROPOSALS}/{number}/look", json={}, headers=shop.headers)
    assert shop.read(f"{PROPOSALS}/{number}/rows")["data"][1]["ingredient"] == "leg"


def test_a_decision_that_cannot_be_shown_says_that_it_may_be_recorded(
    shop: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is recorded by then: a 503 that says nothing of it would have it sent again."""
    number, headers = proposed(shop, "unseen.csv"), shop.headers | {"Idempotency-Key": '"reject-unseen"'}
    path, body = f"{PROPOSALS}/{number}/rejection", {"reason": "Not ours."}

    def lost(*_: object) -> None:
        raise LedgerUnavailable("the connection is lost")

    with monkeypatch.context() as broken:
        broken.setattr(price_proposals, "proposal_document", lost)
        answer = shop.client.post(path, json=body, headers=headers)
    assert (answer.status_code, answer.json["type"]) == (503, "/docs/problems/outcome-unknown")
    assert shop.read(f"{PROPOSALS}/{number}")["state"] == "rejected"
    assert shop.client.post(path, json=body, headers=headers).status_code == 200


def test_an_acceptance_names_the_review_that_was_seen(shop: Kitchen) -> None:
    number = proposed(shop, "seen.csv")
    seen = shop.read(f"{PROPOSALS}/{number}")
    shop.client.post(f"{PROPOSALS}/{number}/look", json={}, headers=shop.headers)
    body = {"looks": seen["looks"], "reviewed_on": seen["reviewed_on"]}
    refused = shop.client.post(f"{PROPOSALS}/{number}/acceptance", json=body, headers=shop.headers)
    assert (refused.status_code, refused.json["type"], refused.json["rows"]) == (
        409, "/docs/problems/proposal-out-of-date", [])
    for wrong in ({"looks": 0}, {"looks": "1"}, {"reviewed_on": "today"}, {"reviewed_on": "9999-12-31"}):
        answer = shop.client.post(f"{PROPOSALS}/{number}/acceptance", json=wrong, headers=shop.headers)
        assert answer.status_code == 422, answer.text


@pytest.mark.parametrize("query", [
    "finding=%F0%9F%A5%A9", "finding=" + "x" * 64, "sort=effect&standing=blocked&limit=1000", "finding=unknown_item",
    "sort=change&finding=no_such_finding"])
def test_rows_are_asked_for_in_odd_ways_and_answered(shop: Kitchen, query: str) -> None:
    answer = shop.client.get(f"{PROPOSALS}/1/rows?{query}", headers=shop.headers)
    assert answer.status_code == 200, answer.text
    shop.validator.check_answer("GET", f"{PROPOSALS}/1/rows", 200, answer.content_type, answer.data)


@pytest.mark.parametrize("query", [
    "finding=", "finding=" + "x" * 65, "finding=%00", "standing=Clean", "sort=price", "limit=0",
    "limit=1001", "limit=9999999999999999999999", "cursor=AAAA", "finding=a&finding=b", "as_of=2026-01-01"])
def test_rows_asked_for_wrongly_are_told(shop: Kitchen, query: str) -> None:
    answer = shop.client.get(f"{PROPOSALS}/1/rows?{query}", headers=shop.headers)
    assert answer.status_code == 422, answer.text
    assert answer.json["errors"][0]["parameter"]


@pytest.mark.parametrize("body", [
    {"rows": [0]}, {"rows": [1.5]}, {"rows": [100001]}, {"rows": [10**30]}, {"rows": "all"}, {"rows": [True]},
    {"rows": [1] * 100_001}, {"overrides": [{}]}, {"overrides": [{"row": 1}]},
    {"overrides": [{"row": 1, "reason": ""}]}, {"overrides": [{"row": 1, "reason": "\u202e"}]},
    {"overrides": [{"row": 1, "reason": "x" * 501}]}, {"overrides": {"row": 1, "reason": "x"}}, {"everything": True},
    []],
    ids=lambda body: str(body)[:40])
def test_an_acceptance_that_says_nothing_sensible_is_refused(shop: Kitchen, body: object) -> None:
    head = shop.ledger.head()
    answer = shop.client.post(f"{PROPOSALS}/1/acceptance", json=body, headers=shop.headers)
    assert answer.status_code == 422, answer.text
    assert shop.ledger.head() == head


def test_a_hundred_thousand_rows_named_twice_are_refused_at_once_and_in_few_words(shop: Kitchen) -> None:
    number = proposed(shop, "flood.csv")
    begun = time.process_time()
    answer = shop.client.post(f"{PROPOSALS}/{number}/acceptance", json={"rows": [1] * 100_000}, headers=shop.headers)
    assert time.process_time() - begun < 30
    assert (answer.status_code, len(answer.json["errors"])) == (422, 200)


def test_thousands_of_rows_may_come_with_a_reason_each(shop: Kitchen) -> None:
    number = proposed(shop, "many.csv")
    overrides = [{"row": row, "reason": "A rise that was agreed."} for row in range(1, 10_001)]
    answer = shop.client.post(f"{PROPOSALS}/{number}/acceptance", json={"overrides": overrides}, headers=shop.headers)
    assert answer.status_code == 422
    assert answer.json["errors"][-1]["detail"].startswith("There is no row 20")


def test_a_closed_period_keeps_a_list_out(shop: Kitchen) -> None:
    settings = shop.read("/v1/settings")
    shop.keep("/v1/settings", settings | {"closed_through": "2027-01-31"})
    number = sent(shop, content=LIST.replace(b"0.21", b"0.24")).json["id"]
    row = shop.read(f"{PROPOSALS}/{number}/rows")["data"][0]
    assert (row["standing"], row["findings"][-1]["code"]) == ("blocked", "closed_period")
