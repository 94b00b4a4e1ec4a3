"""The signature of a webhook message: who sent it, when, and that nothing was changed on the way.

What is signed is the id of the message, the time of this try and the bytes of the body, joined by full stops. The id
stays the same on every retry, so it is what a receiver tells repeats by; the time is the try's own. While a secret is
being rotated a message carries one signature for each secret, and a receiver needs to find only one that it can verify.

Source: Standard Webhooks 1.0.0, "Signature scheme" and "Webhook headers" (symmetric, `v1`: HMAC-SHA256, secrets of 24
to 64 bytes, written in base64 behind `whsec_`).
"""

import hashlib
import hmac
import re
import secrets
from base64 import b64decode, b64encode
from collections.abc import Mapping, Sequence
from datetime import datetime

from service.domain.errors import WrongValue

PREFIX = "whsec_"
LEAST_BYTES, MOST_BYTES, NEW_BYTES = 24, 64, 32
MESSAGE_ID = re.compile(r"[A-Za-z0-9_-]{1,128}")
"""No full stop, which parts the signed text, and nothing that could end a header field."""


def new_secret() -> str:
    """A secret for one webhook, as its owner is shown it once: 256 random bits."""
    return PREFIX + b64encode(secrets.token_bytes(NEW_BYTES)).decode()


def secret_bytes(secret: str) -> bytes:
    """The key that a secret's text stands for; padding at its end may be left out.

    Raises:  WrongValue at `#/secret`, without repeating what was given.
    """
    mend = (f"A signing secret is {PREFIX!r} and then {LEAST_BYTES} to {MOST_BYTES} bytes in base64; leave it out and "
            "one is made.")
    if not secret.startswith(PREFIX):
        raise WrongValue(mend, "#/secret")
    text = secret.removeprefix(PREFIX).rstrip("=")
    try:
        key = b64decode(text + "=" * (-len(text) % 4), validate=True)
    except ValueError:
        raise WrongValue(mend, "#/secret") from None
    if not LEAST_BYTES <= len(key) <= MOST_BYTES:
        raise WrongValue(mend, "#/secret")
    return key


def signed_fields(message_id: str, at: datetime, body: bytes, secrets: Sequence[str]) -> Mapping[str, str]:
    """The three header fields of a try at sending a message, signed with each of the secrets, in their order.

    Shape:   `at` is the time of this try, with its zone; `body` is sent byte for byte as it is signed.
    Raises:  ValueError for an id that could be read in two ways, or without a secret; WrongValue for a wrong secret.
    """
    if not MESSAGE_ID.fullmatch(message_id):
        raise ValueError(f"{message_id!r} cannot be the id of a message: letters, digits, _ and - only.")
    if not secrets:
        raise ValueError("A message without a secret cannot be signed.")
    if at.tzinfo is None:
        raise ValueError("The time of a try needs its zone.")
    seconds = str(int(at.timestamp()))
    signatures = [_signature(secret_bytes(secret), message_id, seconds, body) for secret in secrets]
    return {"webhook-id": message_id, "webhook-timestamp": seconds, "webhook-signature": " ".join(signatures)}


def _signature(key: bytes, message_id: str, seconds: str, body: bytes) -> str:
    digest = hmac.new(key, f"{message_id}.{seconds}.".encode() + body, hashlib.sha256).digest()
    return "v1," + b64encode(digest).decode()
