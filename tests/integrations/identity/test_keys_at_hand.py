"""The provider's keys over its life: rotation, outage, slowness and garbage, from a real server on the loopback.

Sources: OpenID Connect Core 1.0 section 10.1.1 (rotation: an unknown kid is a reason to read the keys again); OpenID
Connect Discovery 1.0 section 4.3 (the issuer in the document is the one asked).
"""

import contextlib
import json
import threading
import time
from collections.abc import Iterator
from ipaddress import ip_address

import pytest

from service.integrations.identity import keys_at_hand
from service.integrations.identity.checking import token_check
from service.integrations.identity.fetching import MOST_BYTES, NotFetched, fetched_json
from service.integrations.identity.keys_at_hand import LONGEST_KEPT, READ_AGAIN_AFTER, TRIED_AT_MOST_EVERY, KeysAtHand
from service.integrations.identity.provider import read_keys
from service.integrations.identity.signing_keys import SigningKey, signing_keys
from service.integrations.identity.tokens import Tokens
from service.use_cases.token_identity import IdentityProviderUnavailable
from tests.conftest import SettableClock
from tests.identity_provider import NOW, Provider, a_provider, public_jwk, rsa_key
from tests.receivers import (
    answers,
    drips_in_the_body,
    drips_in_the_header,
    hangs,
    hangs_up,
    pours,
    redirects,
    says,
)


class Seconds:
    """A monotonic clock that a test moves."""

    def __init__(self) -> None:
        self.now = 1_000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def provider() -> Iterator[Provider]:
    with a_provider() as running:
        yield running


@pytest.fixture
def seconds() -> Seconds:
    return Seconds()


@pytest.fixture
def tokens(provider: Provider, seconds: Seconds) -> Tokens:
    """The check of tokens, with a clock of the keys' age of its own."""
    pinned = provider.settings_with(jwks_url=f"{provider.issuer}/keys")
    keys = KeysAtHand(lambda: read_keys(pinned, 0.3), seconds)
    return Tokens(provider.settings, keys, SettableClock(NOW))


def test_nothing_is_read_before_a_token_comes(provider: Provider, tokens: Tokens) -> None:
    assert provider.receiver.requests == []
    assert tokens.verified("no.token.atall") is None
    assert provider.receiver.requests == []


def test_the_keys_are_read_once_for_many_tokens(provider: Provider, tokens: Tokens) -> None:
    assert all(tokens.verified(provider.token(sub=str(number))) for number in range(20))
    assert provider.read() == 1


def test_a_new_key_is_found_by_its_first_token(provider: Provider, tokens: Tokens, seconds: Seconds) -> None:
    assert tokens.verified(provider.token()) is not None
    provider.rotate()
    seconds.now += TRIED_AT_MOST_EVERY
    assert tokens.verified(provider.token(kid="key-1")) is not None
    assert tokens.verified(provider.token(kid="key-0")) is not None, "the old one as well, while it is there"
    assert provider.read() == 2


def test_unknown_kids_make_no_storm(provider: Provider, tokens: Tokens, seconds: Seconds) -> None:
    for number in range(200):
        assert tokens.verified(provider.token(header={"kid": f"no-{number}"}, key=rsa_key(9))) is None
    assert provider.read() == 1
    seconds.now += TRIED_AT_MOST_EVERY
    for number in range(200):
        assert tokens.verified(provider.token(header={"kid": f"no-{number}"}, key=rsa_key(9))) is None
    assert provider.read() == 2


def test_a_key_taken_back_ends_also_tokens_that_were_verified(
    provider: Provider, tokens: Tokens, seconds: Seconds
) -> None:
    provider.rotate()
    old, new = provider.token(kid="key-0"), provider.token(kid="key-1")
    assert None not in (tokens.verified(old), tokens.verified(new))
    del provider.keys["key-0"]
    assert tokens.verified(old) is not None, "nobody has said so yet"
    seconds.now += READ_AGAIN_AFTER
    assert tokens.verified(old) is None
    assert tokens.verified(new) is not None


def test_another_key_under_the_same_kid_is_another_key(provider: Provider, tokens: Tokens, seconds: Seconds) -> None:
    old = provider.token()
    assert tokens.verified(old) is not None
    provider.keys["key-0"] = rsa_key(8)
    seconds.now += READ_AGAIN_AFTER
    assert tokens.verified(old) is None
    assert tokens.verified(provider.token()) is not None


def test_keys_that_are_the_same_again_leave_verified_tokens_as_they_are(
    provider: Provider, tokens: Tokens, seconds: Seconds
) -> None:
    token = provider.token()
    found = tokens.verified(token)
    seconds.now += READ_AGAIN_AFTER
    assert tokens.verified(token) is found
    assert provider.read() == 2


OUTAGES = {"refuses": answers(503), "hangs up": hangs_up(), "redirects": redirects("/keys-elsewhere"),
           "says nothing": hangs(), "drips its fields": drips_in_the_header(), "drips its keys": drips_in_the_body(),
           "pours": pours(), "garbage": answers(200, b"<html>"), "no keys": answers(200, b'{"keys": []}'),
           "no object": answers(200, b"[]"), "deep": answers(200, b"[" * 100_000), "no HTTP": says(b"hello\r\n\r\n"),
           "too much": answers(200, b" " * (MOST_BYTES + 1)), "no UTF-8": answers(200, b"\xff\xfe\xfd")}


@pytest.mark.parametrize("outage", OUTAGES.values(), ids=OUTAGES.keys())
def test_a_provider_that_fails_leaves_the_keys_at_hand_for_a_day_and_no_longer(
    provider: Provider, tokens: Tokens, seconds: Seconds, outage: object
) -> None:
    token, other = provider.token(), provider.token(sub="bob")
    assert tokens.verified(token) is not None
    provider.receiver.will(outage)  # type: ignore[arg-type]
    seconds.now += READ_AGAIN_AFTER
    begun, asked = time.monotonic(), len(provider.receiver.requests)
    assert None not in (tokens.verified(token), tokens.verified(other))
    assert time.monotonic() - begun < 3, "by its deadline, once"
    assert len(provider.receiver.requests) == asked + 1, "no redirect is followed, and nothing is tried again at once"
    with pytest.raises(IdentityProviderUnavailable):
        tokens.verified(provider.token(header={"kid": "unknown"}))
    seconds.now += LONGEST_KEPT
    with pytest.raises(IdentityProviderUnavailable):
        tokens.verified(token)
    provider.back()
    for _ in range(3):  # a machine that is busy elsewhere may let one try run out of time
        seconds.now += TRIED_AT_MOST_EVERY
        with contextlib.suppress(IdentityProviderUnavailable):
            tokens.verified(token)
            break
    assert None not in (tokens.verified(token), tokens.verified(other))


def test_a_provider_that_was_never_reached_refuses_nobody_for_good(provider: Provider, tokens: Tokens,
                                                                    seconds: Seconds) -> None:
    provider.receiver.will(answers(500))
    for _ in range(3):
        with pytest.raises(IdentityProviderUnavailable):
            tokens.verified(provider.token())
    assert provider.read() == 1
    provider.back()
    seconds.now += TRIED_AT_MOST_EVERY
    assert tokens.verified(provider.token()) is not None


def test_who_has_a_known_key_waits_for_nobody(seconds: Seconds, monkeypatch: pytest.MonkeyPatch) -> None:
    """One thread reads; others with a kid at hand go on, and with an unknown one are told to come again."""
    monkeypatch.setattr(keys_at_hand, "PATIENCE", 0.05)
    reading, go_on = threading.Event(), threading.Event()
    found = signing_keys({"keys": [public_jwk(rsa_key(), kid="key-0")]}, ("RS256",))

    def slow() -> object:
        if reading.is_set() or go_on.is_set() or not first.is_set():
            return found
        reading.set()
        assert go_on.wait(20)
        return found

    first = threading.Event()
    keys = KeysAtHand(slow, seconds)  # type: ignore[arg-type]
    assert keys.of("key-0") is found["key-0"]
    first.set()
    seconds.now += READ_AGAIN_AFTER
    thread = threading.Thread(target=keys.of, args=("key-0",))
    thread.start()
    try:
        assert reading.wait(20)
        assert keys.of("key-0") is found["key-0"]
        with pytest.raises(IdentityProviderUnavailable):
            keys.of("unknown")
    finally:
        go_on.set()
        thread.join(20)


def test_the_keys_are_where_the_discovery_document_says(provider: Provider) -> None:
    check = token_check(provider.settings, SettableClock(NOW))
    assert check is not None
    assert check(provider.token()) is not None
    assert [request.path for request in provider.receiver.requests] == ["/.well-known/openid-configuration", "/keys"]


@pytest.mark.parametrize("change", [{"jwks_uri": "https://keys.example/keys"}, {"issuer": "https://other.example"},
                                    {"jwks_uri": None}, {"jwks_uri": "http://[::1"}])
def test_a_discovery_document_does_not_lead_elsewhere(provider: Provider, change: dict[str, object]) -> None:
    provider.discovery |= change
    check = token_check(provider.settings, SettableClock(NOW))
    assert check is not None
    with pytest.raises(IdentityProviderUnavailable):
        check(provider.token())
    assert provider.read() == 0
    pinned = token_check(provider.settings_with(jwks_url=f"{provider.issuer}/keys"), SettableClock(NOW))
    assert pinned is not None
    assert pinned(provider.token()) is not None


def test_plain_http_is_read_on_the_loopback_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """A name that settings take for the loopback, and that leads elsewhere."""
    monkeypatch.setattr("service.integrations.identity.fetching.looked_up",
                        lambda *_asked: [ip_address("127.0.0.1"), ip_address("192.0.2.1")])
    with pytest.raises(NotFetched, match=r"^not https, and not on the loopback$"):
        fetched_json("http://localhost:1/keys")


def test_the_environment_names_no_proxy(provider: Provider, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HTTP_PROXY", "http://127.0.0.1:1")
    monkeypatch.setenv("http_proxy", "http://127.0.0.1:1")
    assert "keys" in json.dumps(fetched_json(f"{provider.issuer}/keys"))


class Set:
    """A set of keys that is read without a server; how often, and what it fails with."""

    def __init__(self) -> None:
        self.read, self.fails = 0, False
        self.keys = dict(signing_keys({"keys": [public_jwk(rsa_key(), kid="key-0")]}, ("RS256",)))

    def __call__(self) -> dict[str, SigningKey]:
        self.read += 1
        if self.fails:
            raise NotFetched("answered with 500")
        return dict(self.keys)


def test_the_times_are_those_that_the_handbook_names() -> None:
    """An hour, a day, a minute and a second; and a document of 256 KiB at most."""
    assert (READ_AGAIN_AFTER, LONGEST_KEPT, TRIED_AT_MOST_EVERY, keys_at_hand.PATIENCE) == (3_600, 86_400, 60, 1)
    assert MOST_BYTES == 262_144


def test_keys_are_read_again_after_an_hour_and_not_before(seconds: Seconds) -> None:
    known = Set()
    keys = KeysAtHand(known, seconds)
    begun = seconds.now
    for later, read in ((0, 1), (READ_AGAIN_AFTER - 0.001, 1), (READ_AGAIN_AFTER, 2), (READ_AGAIN_AFTER + 59, 2),
                        (2 * READ_AGAIN_AFTER, 3)):
        seconds.now = begun + later
        assert keys.of("key-0") is known.keys["key-0"]
        assert known.read == read, later


def test_for_an_unknown_key_they_are_read_once_a_minute(seconds: Seconds) -> None:
    known = Set()
    keys = KeysAtHand(known, seconds)
    begun = seconds.now
    for later, read in ((0, 1), (TRIED_AT_MOST_EVERY - 0.001, 1), (TRIED_AT_MOST_EVERY, 2),
                        (2 * TRIED_AT_MOST_EVERY - 0.001, 2), (2 * TRIED_AT_MOST_EVERY, 3)):
        seconds.now = begun + later
        assert keys.of("unknown") is None
        assert known.read == read, later
    assert keys.of("key-0") is known.keys["key-0"]


def test_of_a_provider_out_of_reach_the_keys_are_kept_for_a_day_to_the_second(
        seconds: Seconds, caplog: pytest.LogCaptureFixture) -> None:
    known = Set()
    keys = KeysAtHand(known, seconds)
    first = keys.of("key-0")
    begun, known.fails = seconds.now, True
    seconds.now = begun + LONGEST_KEPT - 0.001
    assert keys.of("key-0") is first
    assert caplog.messages == ["the identity provider's keys cannot be read: answered with 500"]
    with pytest.raises(IdentityProviderUnavailable):
        keys.of("unknown")
    seconds.now = begun + LONGEST_KEPT
    with pytest.raises(IdentityProviderUnavailable):
        keys.of("key-0")
    known.fails = False
    seconds.now += TRIED_AT_MOST_EVERY
    assert keys.of("unknown") is None, "and what it does not have is known again"
    assert keys.of("key-0") is not None


def test_keys_too_old_to_be_believed_are_not_taken_for_all_there_are(seconds: Seconds) -> None:
    """A kid that is unknown to a set of the day before is no kid of nobody's, while the set cannot be read."""
    known = Set()
    keys = KeysAtHand(known, seconds)
    assert keys.of("unknown") is None
    keys._tried_at = seconds.now + LONGEST_KEPT
    seconds.now += LONGEST_KEPT
    with pytest.raises(IdentityProviderUnavailable):
        keys.of("unknown")
    assert known.read == 1


def test_a_key_that_is_the_same_again_is_the_same_object_and_another_is_not(seconds: Seconds) -> None:
    known = Set()
    keys = KeysAtHand(known, seconds)
    first = keys.of("key-0")
    for jwk, same in ((public_jwk(rsa_key(), kid="key-0"), True), (public_jwk(rsa_key(7), kid="key-0"), False)):
        known.keys = dict(signing_keys({"keys": [jwk, public_jwk(rsa_key(8), kid="key-1")]}, ("RS256",)))
        seconds.now += READ_AGAIN_AFTER
        assert (keys.of("key-0") is first) == same
        assert keys.of("key-1") is not None


def test_who_waits_for_keys_that_another_reads_gets_them(seconds: Seconds) -> None:
    """The first token of a worker comes in several threads at once: one reads, none is refused, all have the key."""
    known, reading, go_on = Set(), threading.Event(), threading.Event()

    def slow() -> dict[str, SigningKey]:
        reading.set()
        assert go_on.wait(20)
        return known()

    keys, found = KeysAtHand(slow, seconds), list[object]()
    threads = [threading.Thread(target=lambda: found.append(keys.of("key-0"))) for _ in range(3)]
    threads[0].start()
    assert reading.wait(20)
    for thread in threads[1:]:
        thread.start()
    time.sleep(0.05)
    go_on.set()
    for thread in threads:
        thread.join(20)
    assert found == [known.keys["key-0"]] * 3
    assert known.read == 1
