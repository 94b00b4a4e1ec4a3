"""A key sealed for a cookie: whole, unreadable, unchangeable, and good for twelve hours.

Source of the judge: OpenSSL, with which the two texts below were put together by the module's own description
(`openssl dgst -mac HMAC`, for the key stream and for the tag). They are also what a cookie of an earlier release looks
like, which goes on opening while workers are replaced.
"""

from base64 import urlsafe_b64decode, urlsafe_b64encode
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.rest.sealed_key import seal, unseal

SECRET, OTHER = b"a secret of thirty-two bytes !!!", b"A secret of thirty-two bytes !!!"
NOW = datetime(2026, 3, 2, 10, tzinfo=UTC)
NOON = timedelta(hours=12)
ALPHABET = set("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_")
"""Of base64url (RFC 4648, section 5)."""
KEY = "seam_0a1b2c3d_" + "A" * 43
BY_OPENSSL = ("AAAAAGmlX6AAAQIDBAUGBwgJCgsMDQ4Py45Fl0JQH9Lf97gbnPZuCx6z8NQVRXiMx0ibyLNK-AucU7MR1Ao7BYcm1-PgKX4xwMlpdqLv"
              "pyhvyYrsa12R84z6Jgxh8v4vOoaFtPh9xgD4dRYA4qKtVeg")

OF_TWO_BLOCKS = (
    "AAAAAGmlX6AAAQIDBAUGBwgJCgsMDQ4P04BPkXYLFYjWrrBDk8JEITSZ2v4_b1Km7WKx4plg0iG2eZk7_iARL60M_cnKA1Qb6uND"
    "XIjFjQJFi8GlohXYqyG4ZEKrscWJdgO_RC6VE9vM-WDA2Ot4-cOM7N9Iviz-H-weFLbnA6adrJTBj1bEA1JTrBhi9DmbsDHP7PZa"
    "B3MNV232")


def raw(sealed: str) -> bytes:
    return urlsafe_b64decode(sealed + "=" * (-len(sealed) % 4))


def text(content: bytes) -> str:
    return urlsafe_b64encode(content).rstrip(b"=").decode()


def test_what_openssl_sealed_opens() -> None:
    assert unseal(BY_OPENSSL, SECRET, NOW) == (KEY, NOW + NOON)
    assert unseal(OF_TWO_BLOCKS, SECRET, NOW) == ("k" * 100, NOW + NOON)


@given(st.text(st.characters(codec="ascii"), min_size=1, max_size=300))
def test_a_key_comes_back_with_the_moment_at_which_it_ends(key: str) -> None:
    sealed = seal(key, SECRET, NOW)
    assert unseal(sealed, SECRET, NOW) == (key, NOW + NOON)
    assert set(sealed) <= ALPHABET, "fit for a cookie"


def test_a_text_may_end_in_any_character_and_none_is_lost() -> None:
    """Where its bytes are a multiple of three, and no padding follows, the last one may be any."""
    sealed = [seal("k" * 43, SECRET, NOW) for _ in range(3_000)]
    assert {one[-1] for one in sealed} == ALPHABET
    assert all(unseal(one, SECRET, NOW) == ("k" * 43, NOW + NOON) for one in sealed)


def test_it_ends_after_twelve_hours_and_not_before() -> None:
    sealed = seal(KEY, SECRET, NOW)
    assert unseal(sealed, SECRET, NOW + NOON - timedelta(microseconds=1)) is not None
    assert unseal(sealed, SECRET, NOW + NOON) is None


def test_no_bit_of_it_can_be_changed() -> None:
    """Neither when it was issued, nor the nonce, the key or the tag."""
    sealed = raw(seal(KEY, SECRET, NOW))
    for place in range(len(sealed) * 8):
        changed = bytearray(sealed)
        changed[place // 8] ^= 1 << place % 8
        assert unseal(text(bytes(changed)), SECRET, NOW) is None, place


def test_nothing_can_be_left_out_or_added() -> None:
    sealed = raw(seal(KEY, SECRET, NOW))
    assert not [end for end in range(len(sealed)) if unseal(text(sealed[:end]), SECRET, NOW)]
    assert unseal(text(sealed + b"\0"), SECRET, NOW) is None
    assert unseal(text(b"\0" + sealed), SECRET, NOW) is None


def test_another_secret_opens_nothing() -> None:
    assert unseal(seal(KEY, SECRET, NOW), OTHER, NOW) is None


@pytest.mark.parametrize("made_up", ["", "A", "A" * 76, "A" * 1_025, "é" * 40, "!" * 80, "\ud800", "A" * 5])
def test_what_is_no_sealed_key_is_none(made_up: str) -> None:
    assert unseal(made_up, SECRET, NOW) is None


def test_the_longest_that_is_read_has_1024_letters() -> None:
    """712 letters of key: 8 + 16 + 712 + 32 bytes are 1024 letters of base64."""
    longest, longer = seal("k" * 712, SECRET, NOW), seal("k" * 713, SECRET, NOW)
    assert (len(longest), len(longer)) == (1_024, 1_026)
    assert unseal(longest, SECRET, NOW) == ("k" * 712, NOW + NOON)
    assert unseal(longer, SECRET, NOW) is None


def test_the_key_stream_is_never_the_same_twice() -> None:
    """Neither from one block of a key to the next nor in two seals of one key; else texts could be told apart."""
    first, second = (raw(seal("k" * 256, SECRET, NOW))[24:-32] for _ in range(2))
    blocks = [sealed[place:place + 64] for sealed in (first, second) for place in range(0, 256, 64)]
    assert len(set(blocks)) == 8
    assert all(len(set(block)) > 16 for block in blocks), "and is no repeated byte"


def test_a_nonce_is_sixteen_bytes_of_chance() -> None:
    nonces = {raw(seal(KEY, SECRET, NOW))[8:24] for _ in range(50)}
    assert len(nonces) == 50
    assert all(len({nonce[place] for nonce in nonces}) > 10 for place in range(16))
    assert {len(raw(seal(KEY, SECRET, NOW))) for _ in range(5)} == {8 + 16 + len(KEY) + 32}
