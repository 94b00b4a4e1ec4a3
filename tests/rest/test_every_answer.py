"""What every answer carries. Sources: OWASP ASVS 5.0.0, chapters 3.4 and 14.3 (from memory); RFC 9111."""

import re
from typing import Any

import pytest

from tests.rest.trays import a_client, a_tray, an_app, as_

EVERYWHERE = {"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer",
              "Cross-Origin-Resource-Policy": "same-origin"}


@pytest.mark.parametrize("path", ["/health/live", "/v1/trays/a", "/v1/trays", "/nope", "/docs", "/openapi.json",
                                  "/docs/style.css", "/docs/problems/not-found"])
@pytest.mark.parametrize("headers", [{}, as_("reader")])
def test_every_answer_keeps_to_itself(path: str, headers: dict[str, str]) -> None:
    answer = a_client().get(path, headers=headers)
    assert EVERYWHERE.items() <= dict(answer.headers).items()
    assert answer.headers["Content-Security-Policy"].startswith("default-src 'none'")
    assert {"Cache-Control", "X-Request-ID"} <= set(answer.headers.keys())
    assert len(answer.headers.getlist("Cache-Control")) == len(answer.headers.getlist("ETag") or [1]) == 1
    assert "Server" not in answer.headers
    assert not [name for name, _ in answer.headers if name.startswith("Access-Control")]


def test_what_says_nothing_about_storing_is_not_stored() -> None:
    for answer in (a_client().get("/v1/trays/a"), a_client().get("/health/live"),
                   a_client().put("/v1/trays/a", json=a_tray(), headers=as_("chef"))):
        assert answer.headers["Cache-Control"] == "no-store"


def test_a_request_id_is_taken_from_the_client_and_given_back() -> None:
    assert a_client().get("/nope", headers={"X-Request-ID": "till-7:42"}).headers["X-Request-ID"] == "till-7:42"


@pytest.mark.parametrize("given", ["", "a b", "x" * 129, "é", '"><script>', "a;b"])
def test_a_request_id_that_is_no_plain_word_is_replaced(given: str) -> None:
    answered = a_client().get("/nope", headers={"X-Request-ID": given}).headers["X-Request-ID"]
    assert re.fullmatch("[0-9a-f]{32}", answered)


def test_two_requests_have_two_ids() -> None:
    ids = {a_client().get("/health/live").headers["X-Request-ID"] for _ in range(3)}
    assert len(ids) == 3


def test_readiness_is_told_without_detail() -> None:
    well, unwell = a_client().get("/health/ready"), a_client(readiness=lambda: {"ledger": False}).get("/health/ready")
    assert (well.status_code, well.json) == (200, {"status": "pass"})
    assert (unwell.status_code, unwell.json) == (503, {"status": "fail"})
    assert b"ledger" not in unwell.data


def test_what_needs_a_look_is_a_warning_and_takes_no_request_away(caplog: pytest.LogCaptureFixture) -> None:
    late = {"outbox": False, "disk": True}
    client = a_client(concerns=lambda: late)
    for _ in range(3):
        answer = client.get("/health/ready")
        assert (answer.status_code, answer.json) == (200, {"status": "pass", "worth_a_look": True})
        assert b"outbox" not in answer.data
    late["outbox"] = True
    assert client.get("/health/ready").json == {"status": "pass"}
    assert [record.getMessage() for record in caplog.records] == [
        "ready, but to be looked at: outbox", "well again"]
    unready = a_client(readiness=lambda: {"ledger": False}, concerns=lambda: late).get("/health/ready")
    assert (unready.status_code, unready.json) == (503, {"status": "fail"})


def test_what_watches_spoils_no_answer() -> None:
    class Breaks:
        def begun(self, carried: object) -> None: ...
        def answered(self, *_: object) -> None:
            raise RuntimeError("the disk of the metrics is full")

    assert a_client(watchers=(Breaks(),)).get("/health/live").status_code == 200


def test_a_ledger_that_cannot_be_reached_is_told_in_the_same_shape() -> None:
    def gone() -> dict[str, bool]:
        raise TimeoutError("kitchen-db:5432")

    answer = a_client(readiness=gone, unavailable=(TimeoutError,)).get("/health/ready")
    assert (answer.status_code, answer.content_type) == (503, "application/health+json")
    assert answer.json == {"status": "fail"}


def test_readiness_that_breaks_is_no_pass() -> None:
    def broken() -> dict[str, bool]:
        raise RuntimeError

    assert a_client(readiness=broken).get("/health/ready").status_code == 500


def labelled(key: str | None, body: dict[str, Any] | None = None, path: str = "/v1/trays/a/labels/1") -> Any:
    """The answer, and the asker as the use case gets it."""
    seen: list[Any] = []
    headers = as_("chef") | ({} if key is None else {"Idempotency-Key": key})
    answer = a_client(seen=seen).post(path, json=body or {"cut": "a", "weight_kg": "1"}, headers=headers)
    return answer, seen[0] if seen else None


def test_who_asks_reaches_the_use_case() -> None:
    answer, who = labelled(None)
    assert (who.key_id, who.name, who.request_id, who.idempotency) == (
        "c1", "Chef", answer.headers["X-Request-ID"], None)


def test_an_idempotency_key_is_the_inner_text_with_or_without_quotes() -> None:
    assert labelled('"abc-1"')[1].idempotency == labelled("abc-1")[1].idempotency


def test_the_fingerprint_tells_requests_apart_and_the_route_says_which_operation() -> None:
    first, other = labelled("k")[1].idempotency, labelled("k", {"cut": "b", "weight_kg": "1"})[1].idempotency
    assert first.fingerprint != other.fingerprint
    assert labelled("k", path="/v1/trays/b/labels/1")[1].idempotency.route != first.route


@pytest.mark.parametrize("key", ["", '""', '"', "a b", "x" * 200, "é"])
def test_an_idempotency_key_that_is_none_is_400(key: str) -> None:
    answer, who = labelled(key)
    assert (answer.status_code, who) == (400, None)
    assert answer.json["errors"][0]["header"] == "Idempotency-Key"


def test_nothing_is_answered_in_html_but_the_pages() -> None:
    app = an_app()
    paths = [rule.rule for rule in app.url_map.iter_rules() if not rule.arguments]
    html = {path for path in paths
            if app.test_client().get(path, headers=as_("reader")).content_type.startswith("text/html")}
    assert html == {"/docs", "/docs/versioning", "/prices"}
