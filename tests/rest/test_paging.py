"""Pages by cursor. Source: RFC 8288 section 3 for the Link field."""

from datetime import date
from typing import Any
from urllib.parse import urlencode

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.rest.http_faults import WrongCursor
from service.rest.paging import Cursor, Cursors
from tests.rest.trays import SECRET, a_client, as_

CURSORS = Cursors(lambda: SECRET)
PLACE = Cursor(214, date(2026, 3, 1), ["topside-cap", 3])
BOUND = ("r1", "/v1/trays", "as_of=2026-03-01")


def page(who: str = "reader", **query: Any) -> Any:
    return a_client().get("/v1/trays?" + urlencode(query), headers=as_(who))


def test_following_the_cursors_gives_every_row_once() -> None:
    codes, answer = [], page(limit=2)
    while True:
        codes += [row["code"] for row in answer.json["data"]]
        if answer.json["next_cursor"] is None:
            break
        answer = page(limit=2, cursor=answer.json["next_cursor"])
    assert codes == [f"tray-{number}" for number in range(5)]
    assert "Link" not in answer.headers


def test_the_envelope_says_of_which_revision_and_day_it_is() -> None:
    answer = page()
    assert {name: answer.json[name] for name in ("revision", "as_of", "next_cursor")} == {
        "revision": 7, "as_of": "2026-03-01", "next_cursor": None}


def test_the_link_to_the_next_page_keeps_the_filters() -> None:
    answer = page(limit=2, lidded="true")
    target, _, rel = answer.headers["Link"].partition("; ")
    assert rel == 'rel="next"'
    following = a_client().get(target.strip("<>"), headers=as_("reader"))
    assert [row["code"] for row in following.json["data"]] == ["tray-2", "tray-3"]


@given(st.integers(0, 10**15), st.dates(date(1900, 1, 1)), st.text() | st.integers() | st.lists(st.text()))
def test_a_cursor_reads_back_as_it_was_written(revision: int, day: date, position: Any) -> None:
    place = Cursor(revision, day, position)
    assert CURSORS.read(CURSORS.write(place, *BOUND), *BOUND) == place


@pytest.mark.parametrize("bound", [("r2", *BOUND[1:]), (BOUND[0], "/v1/lids", BOUND[2]), (*BOUND[:2], ""),
                                   ("r1/v1", "/trays", BOUND[2])])
def test_a_cursor_is_bound_to_key_route_and_filters(bound: tuple[str, str, str]) -> None:
    with pytest.raises(WrongCursor):
        CURSORS.read(CURSORS.write(PLACE, *BOUND), *bound)


def test_no_character_of_a_cursor_can_be_changed() -> None:
    text = CURSORS.write(PLACE, *BOUND)
    for place, character in enumerate(text):
        for other in ("A" if character != "A" else "B", "=", "\u00e9", ""):
            with pytest.raises(WrongCursor):
                CURSORS.read(text[:place] + other + text[place + 1:], *BOUND)


def test_another_secret_signs_otherwise() -> None:
    with pytest.raises(WrongCursor):
        Cursors(lambda: b"another").read(CURSORS.write(PLACE, *BOUND), *BOUND)


def test_the_secret_is_asked_for_once_and_not_before_it_is_needed() -> None:
    asked: list[int] = []
    cursors = Cursors(lambda: asked.append(1) or SECRET)
    assert asked == []
    assert cursors.write(PLACE, *BOUND) == cursors.write(PLACE, *BOUND) == CURSORS.write(PLACE, *BOUND)
    assert asked == [1]


def test_a_cursor_of_another_key_or_other_filters_is_422() -> None:
    cursor = page(limit=2).json["next_cursor"]
    for answer in (page("other", limit=2, cursor=cursor), page(limit=2, cursor=cursor, lidded="true"),
                   page(cursor="nonsense"), page(cursor="é"), page(cursor="A" * 40)):
        assert (answer.status_code, answer.json["type"]) == (422, "/docs/problems/wrong-cursor")
        assert answer.json["errors"][0]["parameter"] == "cursor"
    assert page(limit=3, cursor=cursor).status_code == 200


@pytest.mark.parametrize("limit", ["0", "1001", "-1", "1_0", "٣", "1.5", "", "true"])
def test_a_limit_is_1_to_1000(limit: str) -> None:
    answer = page(limit=limit)
    assert (answer.status_code, answer.json["errors"][0]["parameter"]) == (422, "limit")


def test_a_query_is_read_anew_each_time() -> None:
    seen: list[Any] = []
    client = a_client(seen=seen)
    for _ in range(2):
        assert client.get("/v1/trays", headers=as_("reader")).status_code == 200
    assert seen[0] == seen[1] == {"limit": 100}
    assert seen[0] is not seen[1]
