"""The till: a key that reads dish costs and nothing else, cheap to poll, and refused at once when it is revoked.

Source: RFC 9110 sections 8.8.3 (weak and strong tags), 13.1.2 (If-None-Match), 15.4.5 (304), 9.3.2 (HEAD), 12.5.3
(Accept-Encoding).
"""

import gzip
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import requests

from tests.stories.running_service import WEDNESDAY, Client, RunningService

COSTS, ONE = "/v1/dish-costs", "/v1/dish-costs/grilled-cap"
OPEN_TO_THE_TILL = {"/v1/dish-costs", "/v1/dish-costs/{code}", "/v1/dish-costs/changes"}
UNPRICED = "secret-truffle"


@pytest.fixture(scope="module")
def till(service: RunningService) -> Client:
    """A key with costs:read alone."""
    return service.client("costs:read")


def operations(service: RunningService, keyed: bool = True) -> Iterator[tuple[str, str, str]]:
    """Method, template and a path of every operation that needs a key, or of those that need none."""
    for template, item in service.validator.document["paths"].items():
        for method, operation in item.items():
            if isinstance(operation, dict) and "responses" in operation and bool(operation["security"]) is keyed:
                yield method.upper(), template, re.sub(r"\{(\w+)\}", r"\1", template.replace("{code}", "grilled-cap"))


def asked(client: Client, method: str, path: str, encoding: str = "identity", **headers: str) -> requests.Response:
    return client.ask(method, path, accept_encoding=encoding, **headers)


def test_the_till_reads_dish_costs_and_every_other_route_is_refused(service: RunningService, till: Client) -> None:
    opened = set()
    for method, template, path in operations(service):
        answer = till.ask(method, path, {} if method in ("PUT", "POST") else None)
        if answer.status_code == 200:
            opened.add(template)
        else:
            assert answer.status_code == 403, f"{method} {path}: {answer.text}"
            assert "insufficient_scope" in answer.headers["WWW-Authenticate"]
    assert opened == OPEN_TO_THE_TILL


def test_without_a_key_nothing_opens_but_health_and_the_document(service: RunningService) -> None:
    stranger = service.client()
    for method, _, path in operations(service):
        answer = stranger.ask(method, path, {} if method in ("PUT", "POST") else None)
        assert (answer.status_code, "Bearer" in answer.headers["WWW-Authenticate"]) == (401, True)
    assert {template for _, template, _ in operations(service, keyed=False)} == {
        "/health/live", "/health/ready", "/feeds/{token}/{table}.csv", "/feeds/{token}/{kind}/{code}/{figure}"}
    for _, template, path in operations(service, keyed=False):
        if template.startswith("/feeds"):
            assert stranger.get(path).status_code == 404
    for path in ("/health/live", "/health/ready", "/openapi.json", "/docs"):
        assert requests.get(service.address + path, timeout=30).status_code == 200


@pytest.mark.parametrize(("back", "status"), [(0, 200), (35, 200), (36, 403), (400, 403), (-1, 403)])
def test_the_till_looks_back_35_days_and_not_ahead(till: Client, back: int, status: int) -> None:
    for path in (COSTS, ONE):
        assert till.get(f"{path}?as_of={WEDNESDAY - timedelta(days=back)}").status_code == status


def test_the_till_asks_for_nothing_as_known_before(till: Client) -> None:
    for path in (COSTS, ONE):
        assert till.get(f"{path}?known_at=1").status_code == 403


def test_a_reader_looks_back_and_ahead(service: RunningService) -> None:
    reader = service.client("read")
    assert reader.get(f"{ONE}?as_of={WEDNESDAY - timedelta(days=400)}").status_code == 200
    assert reader.get(f"{ONE}?as_of={WEDNESDAY + timedelta(days=400)}").status_code == 200


@pytest.fixture(scope="module")
def with_a_gap(service: RunningService) -> str:
    """A dish on the menu whose one dear ingredient has no price."""
    service.admin.keep(f"/v1/ingredients/{UNPRICED}", {"name": "Truffle", "kind": "dry goods", "base_unit": "kg"})
    service.admin.keep("/v1/dishes/dish-with-a-gap", {
        "name": "Special", "portions": "1", "menu_price": "30", "lines": [
            {"ingredient": UNPRICED, "quantity": "5", "unit": "g"},
            {"ingredient": "butter", "quantity": "10", "unit": "g"}]})
    return "dish-with-a-gap"


def test_the_till_sees_that_something_is_missing_and_never_what(till: Client, with_a_gap: str) -> None:
    told = till.get(f"/v1/dish-costs/{with_a_gap}")
    assert told.json()["gaps"] == [{"code": "no_price"}]
    assert told.json()["food_cost"] is None
    assert "allergens_not_declared" not in told.json()
    for answer in (told, till.get(COSTS), till.ask("GET", COSTS, accept="text/csv")):
        assert with_a_gap in answer.text
        assert all(word not in answer.text for word in (UNPRICED, "Truffle", "fenmoor", "harrowick"))


def test_a_reader_sees_what_is_missing(service: RunningService, with_a_gap: str) -> None:
    gaps = service.client("read").read(f"/v1/dish-costs/{with_a_gap}")["gaps"]
    assert [(gap["code"], gap["kind"], gap["record"]) for gap in gaps] == [("no_price", "ingredient", UNPRICED)]


@pytest.mark.parametrize("path", [COSTS, ONE])
@pytest.mark.parametrize("form", ["{}", "W/{}", '"other", {}', 'W/"other" , W/{}', "*"])
def test_nothing_new_is_304_without_a_body(till: Client, path: str, form: str) -> None:
    first = asked(till, "GET", path)
    again = asked(till, "GET", path, if_none_match=form.format(first.headers["ETag"]))
    assert (again.status_code, again.content) == (304, b"")
    for name in ("ETag", "Vary", "Cache-Control"):
        assert again.headers[name] == first.headers[name]


@pytest.mark.parametrize("form", ['"other"', "W/\"other\"", "{}x"])
def test_another_tag_is_answered_whole(till: Client, form: str) -> None:
    first = asked(till, "GET", COSTS)
    again = asked(till, "GET", COSTS, if_none_match=form.format(first.headers["ETag"]))
    assert (again.status_code, again.content) == (200, first.content)


def test_gzip_is_another_variant_with_a_tag_of_its_own(till: Client) -> None:
    plain = asked(till, "GET", COSTS)
    with till.session.get(till.address + COSTS, stream=True, timeout=60, headers={
            "Authorization": f"Bearer {till.key}", "Accept-Encoding": "gzip"}) as packed:
        raw = packed.raw.read(decode_content=False)
    assert (plain.headers.get("Content-Encoding"), packed.headers["Content-Encoding"]) == (None, "gzip")
    assert gzip.decompress(raw) == plain.content
    assert len(raw) < len(plain.content) / 3
    assert packed.headers["ETag"] != plain.headers["ETag"]
    assert "Accept-Encoding" in packed.headers["Vary"]
    assert asked(till, "GET", COSTS, encoding="gzip", if_none_match=packed.headers["ETag"]).status_code == 304
    assert asked(till, "GET", COSTS, encoding="gzip;q=0").headers["ETag"] == plain.headers["ETag"]


@pytest.mark.parametrize("path", [COSTS, ONE])
def test_head_says_what_get_would_without_the_body(till: Client, path: str) -> None:
    got, head = asked(till, "GET", path), asked(till, "HEAD", path)
    assert (head.status_code, head.content) == (200, b"")
    for name in ("ETag", "Content-Type", "Content-Length", "Vary", "Cache-Control"):
        assert head.headers[name] == got.headers[name]
    assert asked(till, "HEAD", path, if_none_match=got.headers["ETag"]).status_code == 304


def test_a_write_that_moves_no_figure_leaves_the_tag(service: RunningService, till: Client) -> None:
    tag = asked(till, "GET", COSTS).headers["ETag"]
    service.client("read")
    assert asked(till, "GET", COSTS, if_none_match=tag).status_code == 304


def test_a_price_that_moves_figures_is_seen_by_the_next_poll_of_every_worker(
    service: RunningService, till: Client
) -> None:
    tag = asked(till, "GET", COSTS).headers["ETag"]
    workers = service.clients_of_every_worker(till)
    service.admin.keep("/v1/ingredients/watercress/prices", {
        "supplier": "harrowick", "amount": "1.05", "pack_quantity": "100", "pack_unit": "g"})
    answers = [asked(client, "GET", COSTS, if_none_match=tag) for client in workers.values()]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert len({answer.content for answer in answers}) == 1


def test_a_revoked_key_is_refused_at_the_very_next_request_in_every_worker(service: RunningService) -> None:
    made = service.admin.keep("/v1/keys", {"name": "lost till", "scopes": ["costs:read"]})
    workers = service.clients_of_every_worker(Client(service.address, made["key"], service.validator))
    assert {client.get(ONE).status_code for client in workers.values()} == {200}
    assert service.admin.ask("DELETE", f"/v1/keys/{made['id']}").status_code == 204
    assert [client.get(ONE).status_code for client in workers.values()] == [401, 401]


def test_a_key_expires(service: RunningService) -> None:
    noon = datetime(WEDNESDAY.year, WEDNESDAY.month, WEDNESDAY.day, 12, tzinfo=UTC)
    made = service.admin.keep("/v1/keys", {
        "name": "day pass", "scopes": ["costs:read"], "expires_at": f"{noon + timedelta(hours=20):%Y-%m-%dT%H:%M:%SZ}"})
    visitor = Client(service.address, made["key"], service.validator)
    assert visitor.get(ONE).status_code == 200
    service.move_to(WEDNESDAY + timedelta(days=1))
    try:
        refused = visitor.get(ONE)
        assert refused.status_code == 401
        assert refused.json()["type"] == "/docs/problems/not-authenticated"
    finally:
        service.move_to(WEDNESDAY)


def test_an_unknown_a_revoked_and_an_expired_key_are_told_the_same(service: RunningService) -> None:
    unknown: dict[str, Any] = Client(service.address, "seam_00000000_no", service.validator).get(ONE).json()
    made = service.admin.keep("/v1/keys", {"name": "gone", "scopes": ["costs:read"]})
    service.admin.ask("DELETE", f"/v1/keys/{made['id']}")
    revoked = Client(service.address, made["key"], service.validator).get(ONE).json()
    assert unknown | {"request_id": ""} == revoked | {"request_id": ""}
