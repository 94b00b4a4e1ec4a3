"""The signature of a webhook message, as receivers verify it.

Sources of the judges: the library `standardwebhooks` (independent of ours, by the authors of the specification); the
worked message of the specification's reference libraries (test "sign function works" of the one for JavaScript);
Standard Webhooks 1.0.0 for sizes and names; RFC 2104 for HMAC, written below from its definition and held to the
vectors of RFC 4231, sections 4.2 to 4.8 (but the truncated one).
"""

import hashlib
import re
from base64 import b64decode, b64encode
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st
from standardwebhooks import Webhook, WebhookVerificationError

from service.domain.errors import WrongValue
from service.use_cases.webhook_signature import new_secret, secret_bytes, signed_fields

BODY = b'{"type":"ping","timestamp":"2026-03-02T10:00:00Z","data":{}}'
KEYS = st.binary(min_size=24, max_size=64)


def now() -> datetime:
    return datetime.now(UTC)


def written(key: bytes) -> str:
    return "whsec_" + b64encode(key).decode()


def verifies(secret: str, fields, body: bytes) -> bool:
    try:
        Webhook(secret).verify(body, dict(fields), json_parse=False)
    except WebhookVerificationError:
        return False
    return True


def test_the_worked_message_of_the_reference_libraries_has_its_signature():
    fields = signed_fields("msg_p5jXN8AQM9LWM0D4loKWxJek", datetime.fromtimestamp(1614265330, UTC),
                           b'{"test": 2432232314}', ["whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"])
    assert fields == {
        "webhook-id": "msg_p5jXN8AQM9LWM0D4loKWxJek", "webhook-timestamp": "1614265330",
        "webhook-signature": "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="}


def hmac_sha_256(key: bytes, text: bytes) -> bytes:
    """H(K XOR opad, H(K XOR ipad, text)), RFC 2104 section 2; SHA-256 works on blocks of 64 bytes."""
    padded = (key if len(key) <= 64 else hashlib.sha256(key).digest()).ljust(64, b"\0")
    inner = hashlib.sha256(bytes(one ^ 0x36 for one in padded) + text).digest()
    return hashlib.sha256(bytes(one ^ 0x5C for one in padded) + inner).digest()


@pytest.mark.parametrize(("key", "text", "digest"), [
    (b"\x0b" * 20, b"Hi There", "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"),
    (b"Jefe", b"what do ya want for nothing?", "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"),
    (b"\xaa" * 20, b"\xdd" * 50, "773ea91e36800e46854db8ebd09181a72959098b3ef8c122d9635514ced565fe"),
    (bytes(range(1, 26)), b"\xcd" * 50, "82558a389a443c0ea4cc819899f2083a85f0faa3e578f8077a2e3ff46729665b"),
    (b"\xaa" * 131, b"Test Using Larger Than Block-Size Key - Hash Key First",
     "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54"),
    (b"\xaa" * 131, b"This is a test using a larger than block-size key and a larger than block-size data. The key"
     b" needs to be hashed before being used by the HMAC algorithm.",
     "9b09ffa71b942fcb27635fbcd5b0e944bfdc63644f0713938a7f51535c3a35e2")])
def test_the_judge_of_hmac_is_right_itself(key, text, digest):
    assert hmac_sha_256(key, text).hex() == digest


@given(key=KEYS, body=st.binary(max_size=200))
def test_a_signature_is_hmac_of_id_time_and_body_joined_by_full_stops(key, body):
    fields = signed_fields("evt_1", datetime.fromtimestamp(1614265330, UTC), body, [written(key)])
    expected = hmac_sha_256(key, b"evt_1.1614265330." + body)
    assert fields["webhook-signature"] == "v1," + b64encode(expected).decode()


@given(key=KEYS, message_id=st.from_regex(r"[A-Za-z0-9_-]{1,40}", fullmatch=True), text=st.text())
def test_an_independent_library_verifies_every_signature(key, message_id, text):
    fields = signed_fields(message_id, now(), text.encode("utf-8", "replace"), [written(key)])
    assert verifies(written(key), fields, text.encode("utf-8", "replace"))


@given(place=st.integers(0, len(BODY) - 1), bit=st.integers(0, 6))
def test_one_bit_changed_on_the_way_is_noticed(place, bit):
    secret, changed = new_secret(), bytearray(BODY)
    changed[place] ^= 1 << bit
    assert not verifies(secret, signed_fields("evt_1", now(), BODY, [secret]), bytes(changed))


def test_another_id_or_another_time_is_noticed():
    secret = new_secret()
    fields = signed_fields("evt_1", now(), BODY, [secret])
    assert not verifies(secret, fields | {"webhook-id": "evt_2"}, BODY)
    assert not verifies(secret, fields | {"webhook-timestamp": str(int(fields["webhook-timestamp"]) + 1)}, BODY)


def test_while_a_secret_is_rotated_receivers_of_the_old_and_of_the_new_one_can_verify():
    old, new, foreign = new_secret(), new_secret(), new_secret()
    fields = signed_fields("evt_1", now(), BODY, [new, old])
    assert len(fields["webhook-signature"].split(" ")) == 2
    assert verifies(old, fields, BODY)
    assert verifies(new, fields, BODY)
    assert not verifies(foreign, fields, BODY)


def test_the_time_of_a_try_is_the_same_moment_in_every_zone():
    secret, at = new_secret(), datetime(2026, 3, 2, 12, 0, 0, 999_999, timezone(timedelta(hours=2)))
    fields = signed_fields("evt_1", at, BODY, [secret])
    assert fields["webhook-timestamp"] == "1772445600"  # date -u -d 2026-03-02T10:00:00Z +%s
    assert fields == signed_fields("evt_1", at.astimezone(UTC), BODY, [secret])


def test_secrets_are_new_each_time_and_of_a_size_that_the_specification_allows():
    made = {new_secret() for _ in range(100)}
    assert len(made) == 100
    assert all(secret.startswith("whsec_") for secret in made)
    assert {len(b64decode(secret.removeprefix("whsec_"))) for secret in made} == {32}, "24 to 64; we make 256 bits"


@given(key=KEYS)
def test_a_secret_is_read_with_and_without_its_padding(key):
    assert secret_bytes(written(key)) == key
    assert secret_bytes(written(key).rstrip("=")) == key


@pytest.mark.parametrize("secret", [
    "", "whsec_", "whsec_" + b64encode(b"k" * 23).decode(), "whsec_" + b64encode(b"k" * 65).decode(),
    b64encode(b"k" * 32).decode(), "whsk_" + b64encode(b"k" * 32).decode(),
    "whsec_" + "k" * 33, "whsec_" + "-_" * 22, "whsec_" + "k" * 20 + "\n" + "k" * 20, "whsec_" + "é" * 32,
    "whsec_" + "kkk=" * 10, written(b"k" * 32) + "\n", written(b"k" * 33) + " ", "whsec_=" + "k" * 44,
])
def test_a_secret_that_is_none_is_refused_without_being_repeated(secret):
    with pytest.raises(WrongValue) as refused:
        secret_bytes(secret)
    assert refused.value.pointer == "#/secret"
    assert len(secret) < 8 or secret not in refused.value.detail
    assert re.fullmatch(r"A signing secret is 'whsec_' and then 24 to 64 bytes in base64; .* one is made\.",
                        refused.value.detail)
    assert refused.value.__suppress_context__ or refused.value.__context__ is None, "a trace shows no secret either"


@pytest.mark.parametrize("message_id", ["", "evt.1", "evt 1", "evt_1\r\nx: y", "evt_1\n", "é", "e" * 129])
def test_an_id_that_could_be_read_in_two_ways_is_never_signed(message_id):
    with pytest.raises(ValueError, match="id of a message"):
        signed_fields(message_id, now(), BODY, [new_secret()])


def test_nothing_is_sent_unsigned_or_at_no_certain_time():
    with pytest.raises(ValueError, match="secret"):
        signed_fields("evt_1", now(), BODY, [])
    with pytest.raises(ValueError, match="zone"):
        signed_fields("evt_1", now().replace(tzinfo=None), BODY, [new_secret()])


def test_a_secret_may_end_in_any_letter_of_base64_and_only_padding_is_left_out() -> None:
    """24 bytes are 32 letters; the last stands for six bits (RFC 4648, table 1: 23 is X, 25 is Z)."""
    for bits, letter in ((23, "X"), (25, "Z"), (61, "9")):
        key = bytes(23) + bytes([bits])
        assert written(key).endswith(letter)
        assert secret_bytes(written(key)) == key
