"""Feed links in the store, on SQLite and on PostgreSQL: what is kept, what never is, and their last use.

Source: the length of a token is what base64url (RFC 4648, section 5, without padding) makes of 256 bits.
"""

import hashlib
from base64 import urlsafe_b64decode
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from threading import Barrier

import pytest
from sqlalchemy import select
from sqlalchemy.exc import IntegrityError

from service.domain.errors import IdempotencyKeyReused, NotAllowed, NotFound, Refused
from service.domain.history import Mark
from service.persistence.backup import backup
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.persistence.restoring import restore
from service.persistence.tables.feed_links import feed_link
from service.use_cases.feed_links import LIVES, FeedAsked, create_feed, feed_document, opened_feed, revoke_feed
from service.use_cases.feed_links_port import FeedLink
from service.use_cases.keys import granted
from service.use_cases.ports import Asker, Entry, Idempotency
from tests.persistence.writing import CHEF

ALL = granted(["admin"])
NOW = datetime(2026, 3, 2, 10, tzinfo=UTC)


def a_feed(ledger, scopes=ALL, asker=CHEF, **facts):
    asked = FeedAsked(**{"name": "Menu sheet", "lists": ("dish-costs",), **facts})
    return create_feed(ledger, asked, scopes, asker).document


def test_a_link_comes_back_as_it_was_asked_for_and_opens_by_its_token(ledger):
    made = a_feed(ledger, fields=("dish", "food_cost"), delimiter="semicolon", decimal="comma", bom=True,
                  expires_at=NOW + timedelta(days=30))
    link = opened_feed(ledger, made["token"], NOW)
    assert link == FeedLink(made["id"], "Menu sheet", ("dish-costs",), ("dish", "food_cost"), "semicolon", "comma",
                            True, CHEF.name, NOW, NOW + timedelta(days=30))
    assert made["urls"] == [{"list": "dish-costs", "csv": f"/feeds/{made['token']}/dish-costs.csv",
                             "value": f"/feeds/{made['token']}/dishes/{{code}}/{{figure}}"}]
    assert len(urlsafe_b64decode(made["token"] + "=")) * 8 == 256
    assert len(made["token"]) == 43


def test_nothing_that_is_kept_opens_it(ledger, engines, tmp_path):
    made = a_feed(ledger)
    with engines.read() as connection:
        row = connection.execute(select(feed_link)).one()
    assert row.token_hash == hashlib.sha256(made["token"].encode()).hexdigest()
    backup(engines, tmp_path / "ledger.jsonl")
    kept = (tmp_path / "ledger.jsonl").read_text() + repr(ledger.entries(Mark(0, 0), 9, 1)) + repr(tuple(row))
    assert made["id"] in kept
    assert made["token"] not in kept


def test_it_ends_after_a_year_unless_it_was_asked_for_otherwise(ledger):
    usual, endless = a_feed(ledger), a_feed(ledger, never_expires=True)
    assert (usual["expires_at"], endless["expires_at"]) == ("2027-03-02T10:00:00Z", None)
    assert opened_feed(ledger, usual["token"], NOW + LIVES - timedelta(seconds=1)).id == usual["id"]
    assert opened_feed(ledger, endless["token"], NOW + 20 * LIVES).id == endless["id"]
    with pytest.raises(NotFound) as expired:
        opened_feed(ledger, usual["token"], NOW + LIVES)
    revoke_feed(ledger, endless["id"], CHEF)
    with pytest.raises(NotFound) as revoked:
        opened_feed(ledger, endless["token"], NOW)
    with pytest.raises(NotFound) as unknown:
        opened_feed(ledger, "x" * 43, NOW)
    assert expired.value.detail == revoked.value.detail == unknown.value.detail


def test_making_and_revoking_are_in_the_ledger_once_each_and_move_no_figure(ledger):
    made = a_feed(ledger, fields=("dish",))
    together = Barrier(4)

    def revoke(_number):
        together.wait(30)
        revoke_feed(ledger, made["id"], CHEF)

    with ThreadPoolExecutor(4) as threads:
        list(threads.map(revoke, range(4)))
    entries = ledger.entries(Mark(0, 0), 20, ledger.head().revision)
    assert [(entry.action, entry.kind, entry.code) for entry in entries] == [
        ("create_feed", "feed", made["id"]), ("revoke_feed", "feed", made["id"])]
    assert entries[0].document["fields"] == ["dish"]
    assert (ledger.head().revision, ledger.head().figures_revision) == (2, 0)
    assert [feed_document(link)["revoked_at"] for link in ledger.feeds.every()] == ["2026-03-02T10:00:00Z"]
    with pytest.raises(NotFound):
        revoke_feed(ledger, "00000000", CHEF)


def test_a_repeat_of_the_request_makes_no_second_link_and_does_not_show_the_token_again(ledger):
    asker = Asker("k", "chef", "r", Idempotency("once", "POST /v1/feeds", "ab" * 32))
    first, again = a_feed(ledger, asker=asker), a_feed(ledger, asker=asker)
    assert again == first | {"token": None, "urls": None}
    assert len(ledger.feeds.every()) == 1
    with pytest.raises(IdempotencyKeyReused):
        a_feed(ledger, asker=Asker("k", "chef", "r", Idempotency("once", "POST /v1/feeds", "cd" * 32)))


def test_its_last_use_is_noted_to_the_minute_and_takes_no_revision(ledger):
    token = a_feed(ledger)["token"]
    for seconds in (0, 5, 59, 61):
        opened_feed(ledger, token, NOW + timedelta(seconds=seconds))
    assert [link.last_used_at for link in ledger.feeds.every()] == [NOW + timedelta(seconds=61)]
    assert ledger.head().revision == 1


@pytest.mark.parametrize(("facts", "pointers"), [
    ({"decimal": "comma"}, ["#/delimiter"]),
    ({"lists": ("dish-costs", "cut-costs"), "fields": ("name",)}, ["#/fields"]),
    ({"expires_at": NOW}, ["#/expires_at"]),
    ({"decimal": "comma", "expires_at": NOW - timedelta(days=1)}, ["#/delimiter", "#/expires_at"])])
def test_what_cannot_be_is_refused_whole_and_nothing_is_kept(ledger, facts, pointers):
    with pytest.raises(Refused) as refused:
        a_feed(ledger, **facts)
    assert [fault.pointer for fault in refused.value.faults] == pointers
    assert (ledger.head().revision, list(ledger.feeds.every())) == (0, [])


@pytest.mark.parametrize(("scopes", "lists", "missing"), [
    (["feeds:manage"], ("dish-costs",), "costs:read"), (["feeds:manage", "costs:read"], ("cut-costs",), "read"),
    (["feeds:manage", "costs:read"], ("dish-costs", "recipe-costs"), "read")])
def test_a_link_shows_nothing_that_its_maker_may_not_read(ledger, scopes, lists, missing):
    with pytest.raises(NotAllowed) as refused:
        a_feed(ledger, granted(scopes), lists=lists)
    assert refused.value.more["scope"] == missing
    assert a_feed(ledger, granted(["feeds:manage", "read"]), lists=lists)["lists"] == list(lists)


def test_the_database_refuses_a_table_whose_marks_are_the_same(ledger):
    link = FeedLink("f1", "Sheet", ("dish-costs",), None, "comma", "comma", False, "chef", NOW, None)
    with pytest.raises(IntegrityError), ledger.write(CHEF, moves_figures=False) as work:
        work.next_mark(Entry("create_feed", "feed", "f1", {}))
        work.feeds.add(link, "ab" * 32)
    assert list(ledger.feeds.every()) == []


def test_links_survive_a_backup_and_a_restore(ledger, engines, tmp_path):
    made = a_feed(ledger)
    backup(engines, tmp_path / "ledger.jsonl")
    url = f"sqlite:///{tmp_path / 'restored.db'}"
    migrate(url)
    fresh = open_engines(url)
    try:
        restore(fresh, tmp_path / "ledger.jsonl")
        assert opened_feed(SqlLedger(fresh), made["token"], NOW) == ledger.feeds.every()[0]
    finally:
        fresh.dispose()


def test_migrating_down_and_up_again_loses_the_links_and_keeps_what_the_ledger_says_of_them(
    ledger, engines, database_url
):
    made = a_feed(ledger)
    migrate(database_url, "0006")
    migrate(database_url)
    assert list(SqlLedger(engines).feeds.every()) == []
    assert [entry.code for entry in ledger.entries(Mark(0, 0), 9, 1)] == [made["id"]]
