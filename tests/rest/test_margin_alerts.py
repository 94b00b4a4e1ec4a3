"""Margin alerts over HTTP: what is refused and where, who may see them, when their tag moves."""

from typing import Any

import pytest

from service.use_cases.keys import create_key
from tests.rest.small_kitchen import BUILDER, Kitchen, a_use

ALERTS = "/v1/margin-alerts"
ROAST = {"name": "Roast leg", "portions": "4", "lines": [a_use("ingredient leg")]}
"""A kilogram at 9.60 for four: 2.40 a portion."""


def get(kitchen: Kitchen, path: str, **headers: str) -> Any:
    answer = kitchen.client.get(path, headers={**kitchen.headers, **headers})
    kitchen.validator.check_answer("GET", path.partition("?")[0], answer.status_code, answer.content_type or "",
                                   answer.data)
    return answer


def an_open_alert(kitchen: Kitchen) -> Any:
    """The alert of a roast that is sold too cheap."""
    kitchen.keep("/v1/dishes/roast", {**ROAST, "menu_price": "3.00"})
    [alert] = get(kitchen, f"{ALERTS}?dish=roast&open=true").json["data"]
    return alert


@pytest.mark.parametrize(("query", "parameter"), [
    ("open=maybe", "open"), ("open=", "open"), ("acknowledged=1", "acknowledged"), ("dish=Soup", "dish"),
    ("from=2026-02-30", "from"), ("to=today", "to"), ("from=2026-03-02&to=2026-03-01", "to"), ("limit=0", "limit"),
    ("limit=1001", "limit"), ("section=" + "x" * 61, "section"), ("as_of=2026-03-01", "as_of"), ("cursor=x", "cursor")])
def test_a_question_that_makes_no_sense_is_pointed_at(kitchen: Kitchen, query: str, parameter: str) -> None:
    answer = get(kitchen, f"{ALERTS}?{query}")
    assert 400 <= answer.status_code < 500
    assert [error["parameter"] for error in answer.json["errors"]] == [parameter]


@pytest.mark.parametrize(("body", "pointer"), [
    (b'{}', "#/note"), (b'{"note": ""}', "#/note"), (b'{"note": "  "}', "#/note"), (b'{"note": null}', "#/note"),
    (b'{"note": 7}', "#/note"), (b'{"note": "' + b"x" * 501 + b'"}', "#/note"), (b'{"note": "a\\u0007b"}', "#/note"),
    (b'{"note": "seen", "by": "me"}', "#/by")])
def test_an_acknowledgement_that_says_nothing_of_use_is_refused_and_nothing_is_kept(
    kitchen: Kitchen, body: bytes, pointer: str
) -> None:
    alert = an_open_alert(kitchen)
    head = kitchen.ledger.head()
    answer = kitchen.send("POST", f"{ALERTS}/{alert['id']}/acknowledgement", body)
    assert (answer.status_code, [error["pointer"] for error in answer.json["errors"]]) == (422, [pointer])
    assert kitchen.ledger.head() == head


def test_an_alert_that_is_not_there_is_not_found(kitchen: Kitchen) -> None:
    for path in (f"{ALERTS}/alert-0", f"{ALERTS}/Soup"):
        assert get(kitchen, path).status_code == 404
    answer = kitchen.send("POST", f"{ALERTS}/alert-0/acknowledgement", b'{"note": "seen"}')
    assert answer.status_code == 404
    assert "/v1/margin-alerts" in answer.json["detail"]


def test_a_till_may_not_read_alerts_and_a_reader_may_not_acknowledge(kitchen: Kitchen) -> None:
    alert = an_open_alert(kitchen)
    may = {}
    for scope in ("costs:read", "read", "menu:write"):
        key = create_key(kitchen.ledger, scope, [scope], None, BUILDER).document["key"]
        headers = {"Authorization": f"Bearer {key}"}
        read = kitchen.client.get(ALERTS, headers=headers)
        noted = kitchen.client.post(f"{ALERTS}/{alert['id']}/acknowledgement", json={"note": scope}, headers=headers)
        may[scope] = (read.status_code, noted.status_code)
    assert may == {"costs:read": (403, 403), "read": (200, 403), "menu:write": (403, 200)}


def test_a_poller_is_told_304_until_something_crosses_or_is_acknowledged(kitchen: Kitchen) -> None:
    alert = an_open_alert(kitchen)
    paths = (ALERTS, f"{ALERTS}/{alert['id']}")
    before = [get(kitchen, path).headers["ETag"] for path in paths]
    assert [get(kitchen, path, **{"If-None-Match": tag}).status_code for path, tag in zip(paths, before, strict=True)
            ] == [304, 304]
    kitchen.send("POST", f"{ALERTS}/{alert['id']}/acknowledgement", b'{"note": "Seen on the pass"}')
    after = [get(kitchen, path, **{"If-None-Match": tag}) for path, tag in zip(paths, before, strict=True)]
    assert [answer.status_code for answer in after] == [200, 200]
    assert after[1].json["acknowledgement"]["note"] == "Seen on the pass"


def test_a_repeat_with_the_same_idempotency_key_is_the_same_answer(kitchen: Kitchen) -> None:
    path = f"{ALERTS}/{an_open_alert(kitchen)['id']}/acknowledgement"
    headers = {**kitchen.headers, "Idempotency-Key": "once"}
    first, again = (kitchen.client.post(path, json={"note": "Once"}, headers=headers) for _ in range(2))
    assert first.json == again.json
    assert again.headers["Idempotency-Replayed"] == "true"
    assert kitchen.client.post(path, json={"note": "Twice"}, headers=headers).status_code == 422


def test_pages_join_by_their_cursors_which_belong_to_their_filters(kitchen: Kitchen) -> None:
    for menu_price in ("40.00", "3.00", "40.00", "3.00"):
        kitchen.keep("/v1/dishes/roast", {**ROAST, "menu_price": menu_price})
    whole = get(kitchen, ALERTS).json
    assert whole["up_to_date"] is True
    rows, path = [], f"{ALERTS}?limit=1"
    while path:
        page = get(kitchen, path).json
        rows += page["data"]
        path = page["next_cursor"] and f"{ALERTS}?limit=1&cursor={page['next_cursor']}"
    assert rows == whole["data"]
    assert [row["crossed"] for row in rows][:3] == ["outside", "back_within", "outside"]
    first = get(kitchen, f"{ALERTS}?limit=1").json["next_cursor"]
    assert get(kitchen, f"{ALERTS}?limit=1&open=true&cursor={first}").json["errors"][0]["parameter"] == "cursor"
