"""Access keys and tokens as the use cases know them: what a scope opens, when a key opens, and what is kept of it.

Sources: FIPS 180-4 (SHA-256 of "abc", from the standard's own examples, from memory); RFC 4648 section 5 for the
letters of a key.
"""

import hashlib
from base64 import urlsafe_b64decode
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import text

from service.domain.errors import NotFound, WrongValue
from service.domain.history import Mark
from service.persistence.engines import Engines
from service.persistence.ledger import SqlLedger
from service.use_cases.asking_key import Callers
from service.use_cases.keys import (
    FORM,
    SCOPES,
    create_key,
    granted,
    hash_of,
    key_document,
    revoke_key,
    still_opens,
    who_asks,
)
from service.use_cases.ports import AccessKey, Asker, Idempotency
from service.use_cases.token_identity import TokenIdentity, key_id_of
from tests.conftest import SettableClock
from tests.plain_words import is_a_sentence

HEAD_CHEF = Asker("key-1", "the chef", "request-1")
TICK = timedelta(microseconds=1)


def made(ledger: SqlLedger, *scopes: str, ends: datetime | None = None, asker: Asker = HEAD_CHEF,
         per_minute: int | None = None) -> Any:
    return create_key(ledger, "till 7", scopes or ("costs:read",), ends, asker, per_minute).document


def entries(ledger: SqlLedger) -> Any:
    return ledger.entries(Mark(0, 0), 20, ledger.head().revision)


def opens(ledger: SqlLedger, secret: str, now: datetime) -> bool:
    return who_asks(ledger, secret, now)[1] is not None


@pytest.mark.parametrize("scope", SCOPES)
def test_a_scope_opens_itself_and_only_two_open_more(scope: str) -> None:
    more = {"read": {"read", "costs:read"}, "admin": set(SCOPES)}
    assert granted([scope]) == more.get(scope, {scope})


def test_scopes_add_up_and_what_is_none_opens_nothing() -> None:
    assert granted([]) == granted(["Admin", "admin ", "*", ""]) == frozenset()
    assert granted(["unheard-of", "sales:write", "prices:write"]) == {"sales:write", "prices:write"}


def test_the_hash_is_sha_256() -> None:
    assert hash_of("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_a_key_is_256_bits_behind_a_public_id_and_shown_once(ledger: SqlLedger, clock: SettableClock) -> None:
    told = made(ledger, "read", "sales:write", ends=clock() + timedelta(days=1), per_minute=7)
    key, public = told["key"], told["id"]
    prefix, name, secret = key.split("_", 2)
    assert (prefix, name, len(public), len(secret)) == ("seam", public, 8, 43)
    assert len(urlsafe_b64decode(secret + "=")) * 8 == 256
    assert FORM.fullmatch(key)
    assert told == {
        "id": public, "name": "till 7", "scopes": ["read", "sales:write"], "created_at": "2026-03-02T10:00:00Z",
        "requests_per_minute": 7, "expires_at": "2026-03-03T10:00:00Z", "last_used_at": None, "revoked_at": None,
        "revision": 1, "key": key}
    assert len({made(ledger)["key"][14:] for _ in range(8)}) == 8


def test_nothing_that_is_kept_opens_it(ledger: SqlLedger, engines: Engines) -> None:
    told = made(ledger, "read", per_minute=7)
    [entry] = entries(ledger)
    assert (entry.action, entry.kind, entry.code) == ("create_key", "key", told["id"])
    assert entry.document == {"id": told["id"], "name": "till 7", "scopes": ["read"], "requests_per_minute": 7,
                              "expires_at": None, "revoked_at": None}
    with engines.read() as connection:
        row = connection.execute(text("SELECT * FROM access_key")).one()
    assert row.secret_hash == hashlib.sha256(told["key"].encode()).hexdigest()
    assert told["key"] not in repr(tuple(row))
    assert told["key"] not in repr(ledger.every_key())


def test_a_key_comes_back_as_it_was_made_whichever_way_it_is_read(ledger: SqlLedger, clock: SettableClock) -> None:
    """Alone, with the head, as each request does; and in the list of all, which is in the order made."""
    begun, kept, told = clock(), [], []
    for number in range(1, 6):
        told.append(made(ledger, "sales:write", "read", ends=begun + timedelta(days=number), per_minute=number))
        kept.append(AccessKey(told[-1]["id"], "till 7", ("sales:write", "read"), clock(),
                              begun + timedelta(days=number), None, None, number, number))
        clock.move(seconds=1)
    assert [ledger.head_and_key(hash_of(each["key"]))[1] for each in told] == kept
    assert ledger.every_key() == tuple(kept)
    clock.move(microseconds=7)
    who_asks(ledger, told[1]["key"], clock())
    revoke_key(ledger, told[1]["id"], HEAD_CHEF)
    kept[1] = replace(kept[1], last_used_at=clock(), revoked_at=clock())
    assert ledger.head_and_key(hash_of(told[1]["key"]))[1] == kept[1]
    assert ledger.every_key() == tuple(kept)
    assert key_document(kept[1]) == {
        "id": kept[1].id, "name": "till 7", "scopes": ["sales:write", "read"], "created_at": "2026-03-02T10:00:01Z",
        "requests_per_minute": 2, "expires_at": "2026-03-04T10:00:00Z", "last_used_at": "2026-03-02T10:00:05Z",
        "revoked_at": "2026-03-02T10:00:05Z"}


def test_a_repeat_makes_no_second_key_and_does_not_show_it_again(ledger: SqlLedger) -> None:
    once = Asker("key-1", "the chef", "request-1", Idempotency("k", "POST /v1/keys", "f" * 64))
    first = made(ledger, asker=once)
    again = create_key(ledger, "till 7", ["costs:read"], None, once)
    assert again.repeated
    assert again.document == first | {"key": None}
    assert len(ledger.every_key()) == 1


def test_keys_are_made_and_revoked_in_the_ledger_and_move_no_figure(ledger: SqlLedger) -> None:
    told = made(ledger)
    revoke_key(ledger, told["id"], HEAD_CHEF)
    revoke_key(ledger, told["id"], HEAD_CHEF)
    assert [(entry.action, entry.kind, entry.code) for entry in entries(ledger)] == [
        ("create_key", "key", told["id"]), ("revoke_key", "key", told["id"])]
    assert entries(ledger)[1].document == {"id": told["id"]}
    assert (ledger.head().revision, ledger.figures_at(2)[0]) == (2, 0)


def test_a_key_that_is_not_there_cannot_be_revoked(ledger: SqlLedger) -> None:
    made(ledger)
    with pytest.raises(NotFound) as missing:
        revoke_key(ledger, "0a1b2c3d", HEAD_CHEF)
    assert "'0a1b2c3d'" in missing.value.detail
    assert is_a_sentence(missing.value.detail)
    assert ledger.head().revision == 1


def test_revoking_one_leaves_the_others(ledger: SqlLedger, clock: SettableClock) -> None:
    first, second = made(ledger), made(ledger)
    revoke_key(ledger, first["id"], HEAD_CHEF)
    assert [opens(ledger, each["key"], clock()) for each in (first, second)] == [False, True]
    assert [still_opens(ledger, each["id"], clock()) for each in (first, second)] == [False, True]
    assert [key.revoked_at for key in sorted(ledger.every_key(), key=lambda key: key.id == second["id"])] == [
        clock(), None]


def test_a_key_ends_at_its_moment_and_not_before(ledger: SqlLedger, clock: SettableClock) -> None:
    ends = clock() + timedelta(hours=1)
    told = made(ledger, ends=ends)
    for now, good in ((ends - TICK, True), (ends, False), (ends + TICK, False)):
        assert opens(ledger, told["key"], now) == good
        assert still_opens(ledger, told["id"], now) == good


def test_a_key_that_has_ended_already_is_not_made(ledger: SqlLedger, clock: SettableClock) -> None:
    for ends in (clock() - TICK, clock()):
        with pytest.raises(WrongValue) as refused:
            made(ledger, ends=ends)
        assert refused.value.pointer == "#/expires_at"
        assert is_a_sentence(refused.value.detail)
    assert ledger.head().revision == 0
    assert made(ledger, ends=clock() + TICK)["revision"] == 1


def test_nobody_is_known_by_an_id_or_another_secret(ledger: SqlLedger, clock: SettableClock) -> None:
    told = made(ledger)
    for wrong in (told["id"], told["key"][:-1], told["key"] + "A", told["key"].swapcase(), hash_of(told["key"]), ""):
        assert not opens(ledger, wrong, clock()), wrong
    assert not still_opens(ledger, "0a1b2c3d", clock())
    head, key = who_asks(ledger, told["key"], clock())
    assert (head, key.id if key else None) == (ledger.head(), told["id"])


def test_the_last_use_is_noted_once_a_minute(ledger: SqlLedger, clock: SettableClock,
                                             monkeypatch: pytest.MonkeyPatch) -> None:
    told = made(ledger)
    touched: list[tuple[str, datetime]] = []
    note = ledger.touch_key
    monkeypatch.setattr(ledger, "touch_key", lambda key_id, at: (touched.append((key_id, at)), note(key_id, at)))
    begun = clock()
    for seconds in (0, 1, 59, 60, 61):
        opens(ledger, told["key"], begun + timedelta(seconds=seconds))
    assert touched == [(told["id"], begun), (told["id"], begun + timedelta(minutes=1))]
    assert [key.last_used_at for key in ledger.every_key()] == [begun + timedelta(minutes=1)]


def test_a_key_s_own_allowance_goes_before_everybody_s(
        ledger: SqlLedger, clock: SettableClock) -> None:
    callers = Callers(ledger, clock, 900)
    told = [made(ledger, "read", per_minute=per_minute) for per_minute in (None, 7)]
    asking = [callers.with_key(each["key"]) for each in told]
    assert [each.requests_per_minute for each in asking if each] == [900, 7]
    assert asking[0] is not None
    assert (asking[0].key_id, asking[0].name, asking[0].scopes, asking[0].head, asking[0].token_ends_at) == (
        told[0]["id"], "till 7", {"read", "costs:read"}, ledger.head(), None)


def test_a_key_is_asked_for_by_the_clock(ledger: SqlLedger, clock: SettableClock) -> None:
    callers = Callers(ledger, clock, 900)
    asking = callers.with_key(made(ledger, ends=clock() + timedelta(hours=1))["key"])
    assert asking is not None
    assert callers.still_opens(asking)
    clock.move(hours=1)
    assert not callers.still_opens(asking)


def test_a_token_is_who_it_says_until_it_ends(ledger: SqlLedger, clock: SettableClock) -> None:
    made(ledger)
    ends = clock() + timedelta(minutes=10)
    known = {"a.b.c": TokenIdentity("oidc:1", "ann", ("read", "unheard-of"), ends)}
    callers = Callers(ledger, clock, 900, known.get)
    asking = callers.with_token("a.b.c")
    assert asking is not None
    assert (asking.key_id, asking.name, asking.scopes, asking.head, asking.requests_per_minute,
            asking.token_ends_at) == ("oidc:1", "ann", {"read", "costs:read"}, ledger.head(), 900, ends)
    assert callers.with_token("a.b.d") is None
    assert Callers(ledger, clock, 900).with_token("a.b.c") is None
    for seconds, good in ((0, True), (599, True), (1, False), (1, False)):
        clock.move(seconds=seconds)
        assert callers.still_opens(asking) == good


def test_a_subject_has_an_id_of_its_own_at_each_issuer() -> None:
    """The digits were computed with `printf 'https://id.example\\nann' | sha256sum`."""
    assert key_id_of("https://id.example", "ann") == "oidc:41eb60a3add4373f0d5f5ee8"
    ids = {key_id_of(*who) for who in (("https://id.example", "ann"), ("https://id.example", "ben"),
                                       ("https://other.example", "ann"), ("https://id.example\nann", ""))}
    assert len(ids) == 4
