"""Access keys: make one, list them, revoke one, and know who asks.

A key is 256 random bits behind a public id; only its SHA-256 is stored. It is shown once. What has not the form of a
key is refused before anything is asked; else unknown, revoked and expired ones cost the same statement. Making and
revoking take a revision, so that every worker knows at the next request; the last use takes none.
"""

import hashlib
import re
import secrets
from base64 import urlsafe_b64encode
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from service.domain.errors import NotFound, WrongValue
from service.use_cases.answered_once import Receipt, answered_once
from service.use_cases.documents import Document, moment
from service.use_cases.ports import AccessKey, Asker, Entry, Head, Ledger, WriteWork

SCOPES = ("costs:read", "read", "prices:write", "prices:approve", "kitchen:write", "menu:write", "sales:write",
          "feeds:manage", "webhooks:manage", "admin")
PREFIX = "seam"
FORM = re.compile(rf"{PREFIX}_[0-9a-f]{{8}}_[A-Za-z0-9_-]{{16,64}}", re.ASCII)
"""What is looked up at all. A key that is made here has 43 letters at its end; examples of documents have fewer."""
MOST_PER_MINUTE = 1_000_000
"""The largest allowance that a key may have of its own."""
GRANTS: Mapping[str, frozenset[str]] = {scope: frozenset((scope,)) for scope in SCOPES} | {
    "read": frozenset(("read", "costs:read")), "admin": frozenset(SCOPES)}


def granted(scopes: Sequence[str]) -> frozenset[str]:
    """All that a key's scopes open: `admin` opens everything, `read` what `costs:read` opens."""
    return frozenset(scope for given in scopes for scope in GRANTS.get(given, frozenset()))


def create_key(
    ledger: Ledger, name: str, scopes: Sequence[str], expires_at: datetime | None, asker: Asker,
    requests_per_minute: int | None = None,
) -> Receipt:
    """Make a key; the answer holds its secret as `key`, this once (a repeat of the request does not show it again).

    Raises:  WrongValue for an expiry that has passed.
    """

    def effect(work: WriteWork) -> Document:
        if expires_at is not None and expires_at <= work.now:
            raise WrongValue("A key expires in the future; leave expires_at out for one that does not.", "#/expires_at")
        public, secret = secrets.token_hex(4), urlsafe_b64encode(secrets.token_bytes(32)).rstrip(b"=").decode()
        text = f"{PREFIX}_{public}_{secret}"
        key = AccessKey(public, name, tuple(scopes), work.now, expires_at, None, None,
                        requests_per_minute=requests_per_minute)
        entry = {name: value for name, value in key_document(key).items() if name not in ("created_at", "last_used_at")}
        mark = work.next_mark(Entry("create_key", "key", public, entry))
        work.add_key(key, hash_of(text))
        return key_document(key) | {"revision": mark.revision, "key": text}

    return answered_once(ledger, asker, effect, moves_figures=False, kept=_without_secret)


def revoke_key(ledger: Ledger, key_id: str, asker: Asker) -> None:
    """Revoke a key at once, in every worker.

    Raises:  NotFound.
    """
    with ledger.write(asker, moves_figures=False) as work:
        key = next((key for key in work.every_key() if key.id == key_id), None)
        if key is None:
            raise NotFound(f"There is no key {key_id!r}.")
        if key.revoked_at is None:
            work.next_mark(Entry("revoke_key", "key", key_id, {"id": key_id}))
            work.revoke_key(key_id, work.now)


def who_asks(ledger: Ledger, secret: str, now: datetime) -> tuple[Head, AccessKey | None]:
    """The head, and the key behind a secret: None when it is unknown, revoked or expired, without saying which."""
    head, key = ledger.head_and_key(hash_of(secret))
    if key is None or key.revoked_at is not None or (key.expires_at is not None and key.expires_at <= now):
        return head, None
    if key.last_used_at is None or now - key.last_used_at >= timedelta(minutes=1):
        ledger.touch_key(key.id, now)
    return head, key


def still_opens(ledger: Ledger, key_id: str, now: datetime) -> bool:
    """Whether a key that was good when a request came still is: for requests that wait."""
    return any(key.id == key_id and key.revoked_at is None and (key.expires_at is None or key.expires_at > now)
               for key in ledger.every_key())


def key_document(key: AccessKey) -> Document:
    """A key as shown: everything but its secret, which is not kept."""
    return {
        "id": key.id, "name": key.name, "scopes": list(key.scopes), "created_at": _instant(key.created_at),
        "requests_per_minute": key.requests_per_minute,
        "expires_at": _instant(key.expires_at), "last_used_at": _instant(key.last_used_at),
        "revoked_at": _instant(key.revoked_at)}


def hash_of(secret: str) -> str:
    """SHA-256 in hexadecimal. Enough for 256 random bits; a slow hash would only slow the polls."""
    return hashlib.sha256(secret.encode()).hexdigest()


def _instant(value: datetime | None) -> str | None:
    return None if value is None else moment(value, "seconds")


def _without_secret(answer: Mapping[str, Any]) -> Mapping[str, Any]:
    return {name: value for name, value in answer.items() if name != "key"} | {"key": None}
