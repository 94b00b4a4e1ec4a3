"""Suppliers' items over HTTP: codes as suppliers write them in an address, conditions, pages, and what bad input gets.

Source: RFC 3986 sections 2.1 and 6.2.2 (percent-encoding, dot segments); Unicode Standard Annex 15 (NFC); RFC 9110
sections 8.8.3, 13.1.1 and 13.1.2. The GTIN is GS1's own worked example.
"""

from typing import Any
from urllib.parse import quote

import pytest
from werkzeug.test import TestResponse

from service.use_cases.keys import create_key
from tests.rest.small_kitchen import BUILDER, EGG, ITEM, SUPPLIER, Kitchen, refused, setting, with_change

ITEMS = "/v1/suppliers/mill/items"
THERE = f"{ITEMS}/10%2F2"
PLAIN = {name: value for name, value in ITEM.items() if name != "gtin"}


def asked(kitchen: Kitchen, method: str, path: str, body: Any = None, **fields: str) -> TestResponse:
    """An answer that is held to the API document."""
    headers = kitchen.headers | {name.replace("_", "-"): value for name, value in fields.items()}
    answer: TestResponse = kitchen.client.open(path, method=method, json=body, headers=headers)
    kitchen.validator.check_answer(method, path, answer.status_code, answer.content_type or "", answer.data)
    return answer


@pytest.mark.parametrize("code", ["10-2345", "AB 12", "a/b/c", "x+y_z.1", "H\u00e4hnchen 7", "\u725b\u8089", "50%",
                                  "a#1", "q?x=1", "a&b", "...", "x" * 64, "=1+1"])
def test_a_code_comes_back_as_the_supplier_writes_it_from_where_the_answer_says(kitchen: Kitchen, code: str) -> None:
    path = f"{ITEMS}/{quote(code, safe='')}"
    kept = asked(kitchen, "PUT", path, PLAIN)
    assert (kept.status_code, kept.json["code"], kept.json["supplier"]) == (201, code, "mill")
    read = asked(kitchen, "GET", kept.headers["Location"])
    assert (kept.headers["Location"], read.json) == (path, kept.json)
    assert asked(kitchen, "DELETE", path, If_Match=read.headers["ETag"]).status_code == 204
    assert asked(kitchen, "GET", path).status_code == 404


def test_a_slash_is_the_same_encoded_or_not_and_text_is_in_nfc(kitchen: Kitchen) -> None:
    assert kitchen.client.get(f"{ITEMS}/10/2", headers=kitchen.headers).json == kitchen.read(THERE)
    kitchen.keep(f"{ITEMS}/{quote('Caf' + chr(0xe9))}", PLAIN)
    assert kitchen.read(f"{ITEMS}/{quote('Cafe' + chr(0x301))}")["code"] == "Caf\u00e9"


@pytest.mark.parametrize("code", ["%20" + "1", "1%20", "%00", "1%0A", "a%09b", "%E2%80%8B", "%FF", "%2E%2E",
                                  "a%2F..%2Fb", "x" * 65, "x" * 3000, "%C2%A0" + "1"])
def test_what_is_no_code_of_a_supplier_s_names_the_parameter(kitchen: Kitchen, code: str) -> None:
    head = kitchen.ledger.head()
    answer = asked(kitchen, "PUT", f"{ITEMS}/{code}", PLAIN)
    assert (answer.status_code, answer.json["errors"][0]["parameter"]) == (422, "item"), answer.text
    assert answer.json["errors"][0]["code"] == "not-a-code"
    for method, fields in (("GET", {}), ("DELETE", {"If_Match": "*"})):
        nothing = asked(kitchen, method, f"{ITEMS}/{code}", **fields)
        assert nothing.status_code == 404
        assert len(nothing.data) < 20_000
    assert kitchen.ledger.head() == head


def test_a_supplier_that_is_not_there_has_no_items(kitchen: Kitchen) -> None:
    items = "/v1/suppliers/nobody/items"
    for method, path, body in (("PUT", f"{items}/1", PLAIN), ("GET", items, None), ("GET", f"{items}/1", None)):
        answer = asked(kitchen, method, path, body)
        assert (answer.status_code, answer.json["type"]) == (404, "/docs/problems/not-found")
    assert asked(kitchen, "PUT", "/v1/suppliers/No-Body/items/1", PLAIN).json["errors"][0]["parameter"] == "code"


def test_items_of_a_retired_supplier_are_kept_and_take_no_more(kitchen: Kitchen) -> None:
    kitchen.keep("/v1/suppliers/closing", SUPPLIER)
    kitchen.keep("/v1/suppliers/closing/items/1", PLAIN)
    kitchen.retire("/v1/suppliers/closing")
    assert [item["code"] for item in kitchen.read("/v1/suppliers/closing/items")["data"]] == ["1"]
    told = asked(kitchen, "PUT", "/v1/suppliers/closing/items/2", PLAIN)
    assert (told.status_code, told.json["type"]) == (422, "/docs/problems/retired-reference")
    assert told.json["errors"][0]["parameter"] == "code"


def test_replacing_and_retiring_need_the_tag_that_was_seen(kitchen: Kitchen) -> None:
    path = f"{ITEMS}/{quote('Con/ditions', safe='')}"
    kitchen.keep(path, PLAIN)
    tag = asked(kitchen, "GET", path).headers["ETag"]
    assert asked(kitchen, "GET", path, If_None_Match=tag).status_code == 304
    assert asked(kitchen, "PUT", path, PLAIN).status_code == 200, "equal to what is in force"
    other = PLAIN | {"name": "Leg"}
    assert asked(kitchen, "PUT", path, other).status_code == 428
    assert asked(kitchen, "DELETE", path).status_code == 428
    assert asked(kitchen, "PUT", path, other, If_None_Match="*").status_code == 412
    assert asked(kitchen, "PUT", path, other, If_Match=tag).status_code == 200
    stale = asked(kitchen, "DELETE", path, If_Match=tag)
    assert (stale.status_code, stale.json["changes"][0]["record"]["name"]) == (412, "Leg")
    assert "'mill/Con/ditions'" in stale.json["detail"]
    assert asked(kitchen, "DELETE", path, If_Match="*").status_code == 204
    assert asked(kitchen, "DELETE", path, If_Match="*").status_code == 404
    assert asked(kitchen, "PUT", path, other).status_code == 201


def test_what_get_gave_can_be_put_back(kitchen: Kitchen) -> None:
    head = kitchen.ledger.head()
    read = kitchen.read(THERE)
    assert asked(kitchen, "PUT", THERE, read).json == read
    assert kitchen.ledger.head() == head


def test_an_item_is_seen_at_once_and_moves_no_figure(kitchen: Kitchen) -> None:
    costs = kitchen.client.get("/v1/dish-costs", headers=kitchen.headers)
    head = kitchen.ledger.head()
    kitchen.keep(f"{ITEMS}/seen", PLAIN)
    assert kitchen.ledger.head().revision == head.revision + 1
    listed = kitchen.read(ITEMS)
    assert listed["revision"] == head.revision + 1
    assert "seen" in [item["code"] for item in listed["data"]]
    later = kitchen.client.get("/v1/dish-costs", headers=kitchen.headers | {"If-None-Match": costs.headers["ETag"]})
    assert later.status_code == 304
    before = asked(kitchen, "GET", f"{ITEMS}/seen?known_at={head.revision}")
    assert before.status_code == 404
    assert asked(kitchen, "GET", f"{ITEMS}?known_at={head.revision + 9}").json["errors"][0]["parameter"] == "known_at"
    feed = kitchen.read("/v1/changes?limit=1000")["data"][-1]
    assert (feed["kind"], feed["code"], feed["record"]["pack"]["quantity"]) == ("supplier_item", "mill/seen", "5")


def test_pages_stay_at_the_revision_of_the_first_whoever_writes_meanwhile(kitchen: Kitchen) -> None:
    kitchen.keep("/v1/suppliers/pages", SUPPLIER)
    codes = [f"{number}/x" for number in range(5)]
    for code in codes:
        kitchen.keep(f"/v1/suppliers/pages/items/{quote(code, safe='')}", PLAIN)
    first = kitchen.read("/v1/suppliers/pages/items?limit=2")
    kitchen.keep("/v1/suppliers/pages/items/2%2Fy", PLAIN)
    seen, page = [item["code"] for item in first["data"]], first
    while page["next_cursor"] is not None:
        page = kitchen.read(f"/v1/suppliers/pages/items?limit=2&cursor={page['next_cursor']}")
        assert page["revision"] == first["revision"]
        seen += [item["code"] for item in page["data"]]
    assert seen == codes
    other = asked(kitchen, "GET", f"{ITEMS}?limit=2&cursor={first['next_cursor']}")
    assert (other.status_code, other.json["errors"][0]["code"]) == (422, "wrong-cursor")


def test_who_writes_prices_says_what_codes_stand_for(kitchen: Kitchen) -> None:
    for scopes, status in ((["read", "prices:write"], 201), (["read", "prices:approve", "kitchen:write"], 403)):
        key = create_key(kitchen.ledger, "finance", scopes, None, BUILDER).document["key"]
        answer = kitchen.client.put(f"{ITEMS}/{scopes[1][7:]}", json=PLAIN, headers={"Authorization": f"Bearer {key}"})
        assert answer.status_code == status, answer.text


def test_items_are_listed_by_ingredient(kitchen: Kitchen) -> None:
    kitchen.keep(f"{ITEMS}/eggs", {"name": "Eggs", "ingredient": "egg", "priced_per": "dozen",
                                   "pack": {"name": "tray", "count": "30", "quantity": "1", "unit": "each"}})
    assert [item["code"] for item in kitchen.read(f"{ITEMS}?ingredient=egg")["data"]] == ["eggs"]
    assert asked(kitchen, "GET", f"{ITEMS}?ingredient=No").status_code == 422


@pytest.mark.parametrize(("pointer", "value", "problem"), [
    ("#/ingredient", "beef", "unknown-reference"), ("#/ingredient", "Leg", "wrong-value"),
    ("#/name", "", "wrong-value"), ("#/name", "x" * 121, "wrong-value"), ("#/pack", None, "wrong-value"),
    ("#/pack", "2 x 5 kg", "wrong-value"), ("#/pack/size", "5", "wrong-value"), ("#/pack/name", "", "wrong-value"),
    ("#/priced_per", "box", "wrong-value"), ("#/gtin", "6291041500214", "wrong-value"),
    ("#/gtin", "123", "wrong-value"), ("#/gtin", "1" * 15, "wrong-value"), ("#/gtin", 6291041500213, "wrong-value"),
    ("#/effective_from", "1 May", "wrong-value")])
def test_what_is_wrong_is_refused_at_its_field(kitchen: Kitchen, pointer: str, value: Any, problem: str) -> None:
    refused(kitchen, THERE, with_change(ITEM, setting(pointer, value)), problem, pointer)


def test_a_pack_that_cannot_be_stored_exactly_is_refused(kitchen: Kitchen) -> None:
    pack = ITEM["pack"] | {"count": "0.000001", "quantity": "0.1"}
    refused(kitchen, THERE, ITEM | {"pack": pack}, "wrong-value", "#/pack")


def test_a_gtin_is_one_item_s_alone(kitchen: Kitchen) -> None:
    head = kitchen.ledger.head()
    told = asked(kitchen, "PUT", f"{ITEMS}/twice", ITEM | {"gtin": "0" + ITEM["gtin"]})
    assert (told.status_code, told.json["item"]) == (422, "10/2")
    assert kitchen.ledger.head() == head


def test_retiring_an_ingredient_leaves_the_items_that_name_it(kitchen: Kitchen) -> None:
    kitchen.keep("/v1/ingredients/duck-egg", EGG)
    kitchen.keep(f"{ITEMS}/duck", PLAIN | {"ingredient": "duck-egg"})
    kitchen.retire("/v1/ingredients/duck-egg")
    assert kitchen.read(f"{ITEMS}/duck")["ingredient"] == "duck-egg"


def test_another_pack_from_a_day_on_is_scheduled(kitchen: Kitchen) -> None:
    path = f"{ITEMS}/dated"
    kitchen.keep(path, PLAIN)
    larger = PLAIN | {"pack": PLAIN["pack"] | {"quantity": "6"}, "effective_from": "2999-01-01"}
    assert asked(kitchen, "PUT", path, larger, If_Match="*").status_code == 200
    assert [kitchen.read(path + query)["pack"]["quantity"] for query in ("", "?as_of=2999-01-01")] == ["5", "6"]
    assert kitchen.read(path)["scheduled"] == ["2999-01-01"]
