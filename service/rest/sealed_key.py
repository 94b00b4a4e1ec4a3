"""A key sealed for a cookie: unreadable and unchangeable outside the service, and good for twelve hours.

What is kept in a browser is not the key: a stolen cookie ends with its session, and opens nothing as a bearer key. And
what is kept here is not enough to make one: whoever reads the database has the signing secret and the keys' hashes,
but no key to seal. That is why the key itself is inside, and not its name with a signature.

Shape:   base64url of: issued (8 bytes, seconds) | nonce (16) | key text, enciphered | tag (32).
Source:  encrypt-then-MAC (Bellare and Namprempre, 2000); the cipher is the key stream of NIST SP 800-108, section 4.1
         (a pseudorandom function in counter mode) over HMAC-SHA-512, since the standard library has no other.
"""

import hmac
import secrets
from base64 import urlsafe_b64decode, urlsafe_b64encode
from datetime import UTC, datetime, timedelta

GOOD_FOR = timedelta(hours=12)
_TIME, _NONCE, _TAG = 8, 16, 32
_LONGEST = 1024


def seal(key: str, secret: bytes, now: datetime) -> str:
    """The key, sealed at `now`; twice the same key gives two texts."""
    issued, nonce, text = int(now.timestamp()).to_bytes(_TIME, "big"), secrets.token_bytes(_NONCE), key.encode()
    told = issued + nonce + _enciphered(text, secret, nonce)
    return urlsafe_b64encode(told + _tag(told, secret)).rstrip(b"=").decode()


def unseal(sealed: str, secret: bytes, now: datetime) -> tuple[str, datetime] | None:
    """The key that was sealed, and when it ends; None when the text was never given here, was changed, or has ended."""
    if len(sealed) > _LONGEST:
        return None
    try:
        raw = urlsafe_b64decode(sealed.encode("ascii") + b"=" * (-len(sealed) % 4))
    except (UnicodeEncodeError, ValueError):
        return None
    told, tag = raw[:-_TAG], raw[-_TAG:]
    if not hmac.compare_digest(tag, _tag(told, secret)):
        return None
    ends = datetime.fromtimestamp(int.from_bytes(told[:_TIME], "big"), UTC) + GOOD_FOR
    key = _enciphered(told[_TIME + _NONCE:], secret, told[_TIME:_TIME + _NONCE])
    return (key.decode(), ends) if now < ends else None


def _enciphered(text: bytes, secret: bytes, nonce: bytes) -> bytes:
    """The text combined with the key stream; the same again gives the text back."""
    blocks = range(len(text) // 64 + 1)
    stream = b"".join(hmac.digest(secret, b"session cipher\n" + nonce + bytes((block,)), "sha512") for block in blocks)
    return bytes(one ^ other for one, other in zip(text, stream, strict=False))


def _tag(told: bytes, secret: bytes) -> bytes:
    return hmac.digest(secret, b"session tag\n" + told, "sha256")
