"""A request that the database undid is asked again, whole and within bounds; and when the outcome is not known, or the
ledger is only read, the answer says so.

Source: PostgreSQL documentation, section 13.5 (serialization failure handling).
"""

import json
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import psycopg
import pytest

from service import operating, wiring
from service.persistence.ledger import SqlLedger
from service.rest.asked_again import LONGEST_PAUSE_SECONDS, TRIES, asked_again
from service.settings import Settings
from service.use_cases.keys import create_key
from service.use_cases.ledger_unavailable import LedgerUnavailable, MayBeRecorded, OnlyReads, Undone
from tests.rest.small_kitchen import BUILDER, SUPPLIER, Kitchen
from tests.rest.trays import a_client

A_LIST = b"code,name,price,unit\n10/2,Leg,9.80,kg\n"
CROSSED = Undone("could not serialize access due to concurrent update")


def failing(times: int, fault: Exception = CROSSED) -> Any:
    """A view that fails so often, and then says at which try it answered."""
    left = iter([fault] * times)
    tries = Counter[str]()

    def view() -> int:
        tries["asked"] += 1
        for error in left:
            raise error
        return tries["asked"]

    return view


@pytest.mark.parametrize("times", range(TRIES))
def test_what_was_undone_is_asked_again(times: int) -> None:
    pauses: list[float] = []
    assert asked_again(failing(times), pauses.append) == times + 1
    assert len(pauses) == times
    assert all(0 <= pause <= LONGEST_PAUSE_SECONDS for pause in pauses)


def test_pauses_are_of_chance_so_that_two_who_crossed_do_not_cross_again() -> None:
    pauses: list[float] = []
    for _ in range(50):
        asked_again(failing(TRIES - 1), pauses.append)
    assert len(set(pauses)) > 100


def test_who_never_gets_through_is_told_after_the_fifth_try() -> None:
    view = failing(TRIES)
    with pytest.raises(Undone):
        asked_again(view, lambda _pause: None)
    assert view() == TRIES + 1


@pytest.mark.parametrize("fault", [LedgerUnavailable("gone"), MayBeRecorded("gone"), OnlyReads("a copy")])
def test_whatever_may_have_had_an_effect_is_not_asked_again(fault: Exception) -> None:
    view = failing(1, fault)
    with pytest.raises(type(fault)):
        asked_again(view, lambda _pause: None)
    assert view() == 2


class Counting:
    """Who watches, and counts the tries after the first."""

    again = 0

    def begun(self, carried: object) -> None: ...

    def answered(self, *_: object) -> None: ...

    def asked_again(self) -> None:
        self.again += 1


def test_each_try_after_the_first_is_told_to_who_watches() -> None:
    watcher, view = Counting(), failing(2)
    client = a_client(watchers=(watcher,))
    client.application.view_functions["health.check_live"] = lambda: str(view())
    assert client.get("/health/live").text == "3"
    assert watcher.again == 2


def breaking(monkeypatch: pytest.MonkeyPatch, times: int, fault: Exception, after: bool = False) -> list[str]:
    """Have the next commits of the ledger fail: undone whole, or (`after`) when they are recorded."""
    true, done = SqlLedger.write, []

    @contextmanager
    def write(ledger: SqlLedger, *asked: Any, **options: Any) -> Iterator[Any]:
        with true(ledger, *asked, **options) as work:
            yield work
            if len(done) < times:
                done.append("failed")
                if not after:
                    raise fault
        if after and done:
            done.append("told")
            raise fault

    monkeypatch.setattr(SqlLedger, "write", write)
    return done


def test_a_write_that_was_undone_twice_is_recorded_once_with_its_body(
        kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    before = kitchen.ledger.head().revision
    done = breaking(monkeypatch, 2, CROSSED)
    kitchen.keep("/v1/suppliers/fenmoor", {**SUPPLIER, "note": "Tuesdays"})
    assert done == ["failed", "failed"]
    assert kitchen.ledger.head().revision == before + 1
    assert kitchen.read("/v1/suppliers/fenmoor")["note"] == "Tuesdays"


def test_a_file_that_was_sent_is_there_for_the_second_try(
        kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    breaking(monkeypatch, 1, CROSSED)
    answer = kitchen.client.post("/v1/price-proposals?supplier=mill&effective_from=2026-11-02", data=A_LIST,
                                 content_type="text/csv", headers=kitchen.headers)
    assert answer.status_code == 201, answer.text
    listed = kitchen.read(f"/v1/price-proposals/{answer.json['id']}/rows")
    assert len(listed["data"]) == 1


def test_a_write_that_is_always_undone_is_503_with_retry_after_and_records_nothing(
        kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    before = kitchen.ledger.head()
    done = breaking(monkeypatch, 99, CROSSED)
    answer = kitchen.put("/v1/suppliers/holt", SUPPLIER)
    assert (answer.status_code, answer.headers["Retry-After"], len(done)) == (503, "5", TRIES)
    assert answer.json["type"] == "/docs/problems/unavailable"
    assert kitchen.ledger.head() == before


def test_an_outcome_that_is_not_known_is_told_so_and_not_tried_again(
        kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    """And the same Idempotency-Key finds out, without a second effect."""
    before = kitchen.ledger.head().revision
    path, body = "/v1/ingredients/leg/prices", json.dumps(
        {"supplier": "mill", "amount": "9.80", "pack_quantity": "1", "pack_unit": "kg"}).encode()
    monkeypatch.setitem(kitchen.headers, "Idempotency-Key", '"delivery-42"')
    with monkeypatch.context() as lost:
        breaking(lost, 1, MayBeRecorded("The database was lost while it committed"), after=True)
        answer = kitchen.send("POST", path, body)
    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "5")
    assert answer.json["type"] == "/docs/problems/outcome-unknown"
    assert "Idempotency-Key" in answer.json["detail"]
    assert kitchen.ledger.head().revision == before + 1
    again = kitchen.send("POST", path, body)
    assert again.status_code == 201
    assert kitchen.ledger.head().revision == before + 1


def test_a_copy_that_is_only_read_says_so(kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    breaking(monkeypatch, 1, OnlyReads("cannot execute SELECT FOR UPDATE in a read-only transaction"))
    answer = kitchen.put("/v1/suppliers/ings", SUPPLIER)
    assert (answer.status_code, answer.json["type"]) == (503, "/docs/problems/copy-only-read")


def test_a_real_deadlock_is_undone_and_the_write_goes_through(postgres_url: str) -> None:
    """Another session holds a table and wants the head, the write holds the head and wants the table."""
    settings = Settings(database_url=postgres_url)
    with operating.opened_ledger(settings) as ledger, psycopg.connect(postgres_url) as other:
        key = create_key(ledger, "admin", ["admin"], None, BUILDER).document["key"]
        client = wiring.app_on(ledger, settings).test_client()
        other.execute("SET LOCAL deadlock_timeout = '60s'")
        other.execute("LOCK TABLE supplier_version IN ACCESS EXCLUSIVE MODE")
        answers: list[Any] = []
        writing = threading.Thread(target=lambda: answers.append(client.put(
            "/v1/suppliers/fenmoor", json=SUPPLIER, headers={"Authorization": f"Bearer {key}"})))
        writing.start()
        _when_somebody_waits(postgres_url)
        assert other.execute("SELECT revision FROM ledger_head FOR UPDATE").fetchone() == (1,)
        other.rollback()
        writing.join(30)
        assert [answer.status_code for answer in answers] == [201]
        assert ledger.head().revision == 2


def _when_somebody_waits(url: str) -> None:
    until = time.monotonic() + 20
    with psycopg.connect(url, autocommit=True) as looking:
        while not looking.execute("SELECT count(*) FROM pg_locks WHERE NOT granted").fetchone()[0]:  # type: ignore[index]
            assert time.monotonic() < until, "nobody waits"
            time.sleep(0.01)


def test_a_creation_that_a_proxy_sent_twice_is_told_how_the_record_came_about(kitchen: Kitchen) -> None:
    """And so that it was this very request: by the same key, with the same record."""
    path, headers = "/v1/suppliers/sent-twice", kitchen.headers | {"If-None-Match": "*"}
    first, again = (kitchen.client.put(path, json=SUPPLIER, headers=headers) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 412)
    [told] = again.json["changes"]
    assert (told["revision"], again.json["revision"]) == (first.json["revision"], first.json["revision"])
    assert (told["action"], told["record"]["name"]) == ("keep", SUPPLIER["name"])
    kitchen.validator.check_answer("PUT", path, 412, again.content_type or "", again.data)
