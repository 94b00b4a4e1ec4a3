"""The till asks for its own dishes and for what it shows of them: polled all day, at midnight, while others write.

What dishes cost is judged by the naive kitchen of `expected_figures`. Source: RFC 9110 sections 8.8.3 (tags), 9.3.2
(HEAD), 9.3.7 (OPTIONS), 11.6.1 (challenges), 13.1.2 and 15.4.5 (304); RFC 7617 (Basic).
"""

import gzip
from typing import Any

import pytest
import requests

from tests.stories.expected_figures import expected_costs, kitchen_on, with_price
from tests.stories.running_service import MONDAY, WEDNESDAY, Client, RunningService

COSTS = "/v1/dish-costs"
MINE = f"{COSTS}?pos_codes=1042,1048,1049&fields=pos_code,dish,food_cost,within_target"
ABOVE = f"{COSTS}?within_target=false&fields=dish,food_cost"
SHOWN = ("pos_code", "dish", "food_cost", "within_target")


@pytest.fixture(scope="module")
def till(service: RunningService) -> Client:
    return service.client("costs:read")


def asked(client: Client, method: str, path: str, **headers: str) -> requests.Response:
    return client.ask(method, path, **{"accept_encoding": "identity", **headers})


def told(answer: requests.Response) -> dict[str, Any]:
    assert answer.status_code == 200, answer.text
    return {row["dish"]: row["food_cost"] for row in answer.json()["data"]}


def test_the_till_gets_its_own_dishes_and_what_it_shows_of_them(service: RunningService, till: Client) -> None:
    rows = till.read(MINE)["data"]
    assert [tuple(row) for row in rows] == [SHOWN] * 3
    whole = {row["pos_code"]: row for row in till.read(f"{COSTS}?limit=1000")["data"]}
    assert rows == [{name: whole[code][name] for name in SHOWN} for code in sorted(
        ("1042", "1048", "1049"), key=lambda code: whole[code]["dish"])]


@pytest.mark.parametrize("path", [MINE, ABOVE])
@pytest.mark.parametrize("form", ["{}", "W/{}", '"other", {}', 'W/"other" , W/{}', "*"])
def test_nothing_new_is_304_on_every_worker(service: RunningService, till: Client, path: str, form: str) -> None:
    first = asked(till, "GET", path)
    for client in service.clients_of_every_worker(till).values():
        again = asked(client, "GET", path, if_none_match=form.format(first.headers["ETag"]))
        assert (again.status_code, again.content) == (304, b"")
        for name in ("ETag", "Vary", "Cache-Control"):
            assert again.headers[name] == first.headers[name]
    assert first.headers["Cache-Control"] == "private, no-cache"
    assert {"Authorization", "Accept", "Accept-Encoding"} <= set(first.headers["Vary"].split(", "))


def test_another_choice_is_another_representation(till: Client) -> None:
    tag = asked(till, "GET", MINE).headers["ETag"]
    for path in (COSTS, ABOVE, f"{MINE},name", MINE.replace("1042,", "")):
        answer = asked(till, "GET", path, if_none_match=tag)
        assert (answer.status_code, answer.headers["ETag"] == tag) == (200, False)


def test_a_choice_is_packed_as_well(till: Client) -> None:
    path = f"{COSTS}?fields=dish,name,food_cost,menu_price,gross_profit"
    plain = asked(till, "GET", path)
    with till.session.get(till.address + path, stream=True, timeout=60, headers={
            "Authorization": f"Bearer {till.key}", "Accept-Encoding": "gzip"}) as packed:
        raw = packed.raw.read(decode_content=False)
    assert packed.headers["Content-Encoding"] == "gzip"
    assert gzip.decompress(raw) == plain.content
    assert packed.headers["ETag"] != plain.headers["ETag"]


@pytest.mark.parametrize("path", [COSTS, MINE, "/v1/cut-costs", "/v1/recipe-costs", f"{COSTS}/grilled-cap"])
def test_head_and_options_are_served_to_who_may_read(service: RunningService, path: str) -> None:
    reader = service.client("read")
    got, head = asked(reader, "GET", path), asked(reader, "HEAD", path)
    assert (head.status_code, head.content) == (200, b"")
    for name in ("ETag", "Content-Type", "Content-Length", "Vary", "Cache-Control"):
        assert head.headers[name] == got.headers[name]
    assert asked(reader, "HEAD", path, if_none_match=got.headers["ETag"]).status_code == 304
    options = reader.session.options(service.address + path, headers={"Authorization": f"Bearer {reader.key}"})
    assert (options.status_code, options.content) == (200, b"")
    assert set(options.headers["Allow"].split(", ")) == {"GET", "HEAD", "OPTIONS"}
    assert requests.options(service.address + path, timeout=30).status_code == 401


@pytest.mark.parametrize(("limit", "status"), [(1, 200), (1000, 200), (1001, 422), (0, 422)])
def test_a_page_has_up_to_a_thousand_rows(till: Client, limit: int, status: int) -> None:
    assert asked(till, "GET", f"{COSTS}?limit={limit}").status_code == status


def test_pages_of_a_choice_are_of_one_revision_whoever_writes_between(service: RunningService, till: Client) -> None:
    path = f"{COSTS}?within_target=true&fields=dish,food_cost,revision&limit=3"
    before = till.read(path.replace("limit=3", "limit=1000"))
    first = till.read(path)
    service.admin.keep("/v1/ingredients/butter/prices", {
        "supplier": "harrowick", "amount": "9.95", "pack_quantity": "1", "pack_unit": "kg"})
    rows, cursor = list(first["data"]), first["next_cursor"]
    while cursor is not None:
        page = till.read(f"{path}&cursor={cursor}")
        rows, cursor = rows + page["data"], page["next_cursor"]
    assert rows == before["data"]
    assert {row["revision"] for row in rows} == {first["revision"]}
    assert till.read(path)["revision"] > first["revision"]


def test_a_price_is_seen_by_the_next_poll_of_every_worker(service: RunningService, till: Client) -> None:
    tag = asked(till, "GET", MINE).headers["ETag"]
    service.admin.keep("/v1/ingredients/beef-topside/prices", {
        "supplier": "fenmoor", "amount": "15.10", "pack_quantity": "1", "pack_unit": "kg"})
    answers = [asked(client, "GET", MINE, if_none_match=tag)
               for client in service.clients_of_every_worker(till).values()]
    assert [answer.status_code for answer in answers] == [200] * service.workers
    assert len({answer.content for answer in answers}) == 1
    judge = expected_costs(with_price(kitchen_on(WEDNESDAY), "beef-topside", "15.10", WEDNESDAY))
    assert told(answers[0])["grilled-cap"] == judge["grilled-cap"]["food_cost"]


def test_what_starts_at_midnight_changes_tags_and_figures_and_rows_with_no_write(
    service: RunningService, till: Client
) -> None:
    """A dearer chicken from Monday: on that day other dishes are above their target, and nobody has written."""
    service.admin.keep("/v1/ingredients/whole-chicken/prices", {
        "supplier": "fenmoor", "amount": "39.00", "pack_quantity": "1", "pack_unit": "kg",
        "effective_from": MONDAY.isoformat()})
    head = service.admin.head_revision()
    before = {path: asked(till, "GET", path) for path in (COSTS, MINE, ABOVE)}
    assert [asked(till, "GET", path, if_none_match=before[path].headers["ETag"]).status_code for path in before] == [
        304] * 3
    service.move_to(MONDAY)
    try:
        after = {path: asked(till, "GET", path, if_none_match=before[path].headers["ETag"]) for path in before}
        assert [answer.status_code for answer in after.values()] == [200] * 3
        assert service.admin.head_revision() == head
        assert {answer.json()["as_of"] for answer in after.values()} == {MONDAY.isoformat()}
        assert {answer.json()["revision"] for answer in (*before.values(), *after.values())} == {
            before[COSTS].json()["revision"]}
        chicken = {"roast-chicken-breast", "stuffed-chicken-leg"}
        assert chicken.isdisjoint(told(before[ABOVE]))
        assert chicken <= told(after[ABOVE]).keys()
        everything = {row["dish"]: row for row in after[COSTS].json()["data"]}
        assert told(after[ABOVE]) == {code: row["food_cost"] for code, row in everything.items()
                                      if row["within_target"] is False}
    finally:
        service.move_to(WEDNESDAY)
    assert asked(till, "GET", ABOVE, if_none_match=before[ABOVE].headers["ETag"]).status_code == 304


def test_a_query_tool_reads_with_the_key_as_its_password(service: RunningService, till: Client) -> None:
    """`requests` makes the credentials, and by the challenge alone it would not know the key: none stands in a URL."""
    address = service.address + MINE
    by_basic = requests.get(address, auth=("spreadsheet", till.key), timeout=30)
    assert by_basic.json() == till.read(MINE)
    wrong = requests.get(address, auth=("spreadsheet", till.key[:-1] + "~"), timeout=30)
    nobody = requests.get(address, timeout=30)
    assert (wrong.status_code, wrong.headers["WWW-Authenticate"]) == (401, 'Basic realm="seamcost", charset="UTF-8"')
    assert (nobody.status_code, "Basic realm" in nobody.headers["WWW-Authenticate"]) == (401, True)
    refused = requests.get(service.address + "/v1/prices", auth=("spreadsheet", till.key), timeout=30)
    assert (refused.status_code, refused.json()["scope"]) == (403, "read")
