"""A feed link's whole life, asked as a spreadsheet program asks: made, read, moved by a price and by midnight, ended.

What dishes cost is judged by the naive kitchen of `expected_figures`. Source: RFC 9110 sections 9.3.2 and 9.3.7; the
order of the requests (OPTIONS, HEAD twice, GET, all without credentials) is what LibreOffice 7.4 was seen to send.
"""

import csv
import io
import socket
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import requests

from tests.stories.expected_figures import expected_costs, kitchen_on, with_price
from tests.stories.running_service import MONDAY, WEDNESDAY, Client, RunningService

CAP = "grilled-cap"


@pytest.fixture(scope="module")
def manager(service: RunningService) -> Client:
    return service.client("feeds:manage", "read")


def made(manager: Client, **facts: Any) -> dict[str, Any]:
    answer = manager.post("/v1/feeds", {"name": "Menu sheet", "lists": ["dish-costs"]} | facts)
    assert answer.status_code == 201, answer.text
    feed: dict[str, Any] = answer.json()
    return feed


def stranger(service: RunningService) -> Client:
    """A program without a key, on a connection of its own."""
    return service.client()


def as_a_spreadsheet(program: Client, url: str, **headers: str) -> requests.Response:
    """What LibreOffice sends for one opening of an address; the answer to its GET."""
    for method in ("OPTIONS", "HEAD", "HEAD"):
        answer = program.session.request(method, program.address + url, headers={"Accept": "*/*"}, timeout=60)
        assert (answer.status_code, answer.content) == (200, b""), method
    return program.get(url, accept="*/*", accept_encoding="identity", **headers)


def table(answer: requests.Response) -> dict[str, dict[str, str]]:
    assert answer.status_code == 200, answer.text
    return {row["dish"]: row for row in csv.DictReader(io.StringIO(answer.text, newline=""), strict=True)}


def unreadable(service: RunningService, line: str) -> bytes:
    """The answer to a request line as programs write it that encode nothing."""
    host, _, port = service.address.removeprefix("http://").partition(":")
    with socket.create_connection((host, int(port)), timeout=60) as connection:
        connection.sendall(f"{line}\r\nHost: {host}\r\n\r\n".encode())
        return connection.recv(4096)


def every_worker(service: RunningService) -> Iterator[Client]:
    yield from service.clients_of_every_worker(stranger(service)).values()


def test_a_sheet_reads_today_s_costs_and_moves_with_a_price_and_with_midnight(
    service: RunningService, manager: Client
) -> None:
    feed = made(manager)
    url, cell = feed["urls"][0]["csv"], feed["urls"][0]["value"].format(code=CAP, figure="food_cost")
    first = as_a_spreadsheet(stranger(service), url)
    judge = expected_costs(kitchen_on(WEDNESDAY))
    assert {code: row["food_cost"] for code, row in table(first).items()} == {
        code: costs["food_cost"] for code, costs in judge.items()}
    assert as_a_spreadsheet(stranger(service), cell).text == judge[CAP]["food_cost"]
    service.admin.keep("/v1/ingredients/beef-topside/prices", {
        "supplier": "fenmoor", "amount": "16.40", "pack_quantity": "1", "pack_unit": "kg"})
    dearer = expected_costs(with_price(kitchen_on(WEDNESDAY), "beef-topside", "16.40", WEDNESDAY))[CAP]["food_cost"]
    for program in every_worker(service):
        again = as_a_spreadsheet(program, url, if_none_match=first.headers["ETag"])
        assert table(again)[CAP]["food_cost"] == dearer != judge[CAP]["food_cost"]
        assert program.get(cell).text == dearer
        assert program.get(url, accept_encoding="identity", if_none_match=again.headers["ETag"]).status_code == 304
    head = service.admin.head_revision()
    service.move_to(MONDAY)
    try:
        on_monday = table(as_a_spreadsheet(stranger(service), url, if_none_match=again.headers["ETag"]))
        assert {row["as_of"] for row in on_monday.values()} == {MONDAY.isoformat()}
        assert {code: row["food_cost"] for code, row in on_monday.items()} == {
            code: costs["food_cost"] for code, costs in expected_costs(
                with_price(kitchen_on(MONDAY), "beef-topside", "16.40", WEDNESDAY)).items()}
        assert service.admin.head_revision() == head
    finally:
        service.move_to(WEDNESDAY)


def test_a_link_of_cuts_and_recipes_shows_their_figures(service: RunningService, manager: Client) -> None:
    feed = made(manager, lists=["cut-costs", "recipe-costs"])
    program = stranger(service)
    for urls, (name, code, figure) in zip(feed["urls"], (
            ("cut-costs", "cut", "cost_per_kg"), ("recipe-costs", "recipe", "cost")), strict=True):
        rows = list(csv.DictReader(io.StringIO(as_a_spreadsheet(program, urls["csv"]).text, newline="")))
        told = manager.everything(f"/v1/{name}")
        assert [(row[code], row[figure]) for row in rows] == [(row[code], row[figure] or "n/a") for row in told]
        one = program.get(urls["value"].format(code=told[0][code], figure=figure))
        assert (one.status_code, one.text) == (200, rows[0][figure])


def test_its_last_use_is_shown_and_no_read_takes_a_revision(service: RunningService, manager: Client) -> None:
    feed = made(manager)
    head = service.admin.head_revision()

    def last_used() -> Any:
        return next(link["last_used_at"] for link in manager.read("/v1/feeds")["data"] if link["id"] == feed["id"])

    assert last_used() is None
    as_a_spreadsheet(stranger(service), feed["urls"][0]["csv"])
    noon = datetime(WEDNESDAY.year, WEDNESDAY.month, WEDNESDAY.day, 12, tzinfo=UTC)
    assert abs(datetime.fromisoformat(last_used()) - noon) < timedelta(minutes=15)
    assert service.admin.head_revision() == head


def test_a_revoked_link_shows_nothing_at_the_very_next_read_of_every_worker(
    service: RunningService, manager: Client
) -> None:
    feed = made(manager)
    url = feed["urls"][0]["csv"]
    programs = list(every_worker(service))
    assert [program.get(url).status_code for program in programs] == [200] * service.workers
    assert manager.ask("DELETE", f"/v1/feeds/{feed['id']}").status_code == 204
    gone = [program.get(url) for program in programs]
    assert [answer.status_code for answer in gone] == [404] * service.workers
    never = programs[0].get(url.replace(feed["token"], "A" * 43))
    assert gone[0].json() | {"request_id": ""} == never.json() | {"request_id": ""}
    assert manager.ask("DELETE", f"/v1/feeds/{feed['id']}").status_code == 204
    assert manager.ask("DELETE", "/v1/feeds/00000000").status_code == 404


def test_a_link_ends_when_it_was_to_and_goes_on_when_its_maker_s_key_ends(
    service: RunningService, manager: Client
) -> None:
    key = service.admin.keep("/v1/keys", {"name": "leaver", "scopes": ["feeds:manage", "costs:read"]})
    leaver = Client(service.address, key["key"], service.validator)
    tomorrow = f"{WEDNESDAY + timedelta(days=1)}T12:00:00Z"
    brief, long = made(leaver, expires_at=tomorrow), made(leaver)
    assert long["expires_at"].startswith(str(WEDNESDAY + timedelta(days=365)))
    assert service.admin.ask("DELETE", f"/v1/keys/{key['id']}").status_code == 204
    program = stranger(service)
    assert [program.get(feed["urls"][0]["csv"]).status_code for feed in (brief, long)] == [200, 200]
    assert next(link["made_by"] for link in manager.read("/v1/feeds")["data"] if link["id"] == long["id"]) == "leaver"
    service.move_to(WEDNESDAY + timedelta(days=2))
    try:
        assert [program.get(feed["urls"][0]["csv"]).status_code for feed in (brief, long)] == [404, 200]
    finally:
        service.move_to(WEDNESDAY)


def test_no_token_is_in_the_log_the_ledger_or_any_file_of_the_service(service: RunningService, manager: Client) -> None:
    feed = made(manager, fields=["dish", "food_cost"])
    token, program = feed["token"], stranger(service)
    for url in (feed["urls"][0]["csv"], f"/feeds/{token}/dishes/{CAP}/no_such", f"/feeds/{token}/nowhere"):
        answer = program.get(url)
        assert token not in answer.text + str(answer.headers), url
    for line in (f"GET /feeds/{token}/dish-costs.csv?refresh=caf\u00e9 HTTP/1.1", f"GET /feeds/{token}/dish-costs.csv"):
        assert b" 400 " in unreadable(service, line)
    assert service.settings.clock_file is not None
    folder: Path = service.settings.clock_file.parent
    files = [path for path in folder.rglob("*") if path.is_file()]
    assert folder / "log" in files
    assert [path.name for path in files if token.encode() in path.read_bytes()] == []
    changes = manager.read("/v1/changes?limit=1000")["data"]
    entry = next(each for each in changes if each["code"] == feed["id"])
    assert (entry["action"], token in str(entry)) == ("create_feed", False)


def test_nothing_but_its_own_scope_makes_or_lists_or_revokes_links(service: RunningService) -> None:
    reader = service.client("read", "prices:write", "kitchen:write", "menu:write")
    body = {"name": "Sheet", "lists": ["dish-costs"]}
    for answer in (reader.get("/v1/feeds"), reader.post("/v1/feeds", body), reader.ask("DELETE", "/v1/feeds/00000000")):
        assert (answer.status_code, answer.json()["scope"]) == (403, "feeds:manage")
