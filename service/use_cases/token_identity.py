"""Who calls with a token of the organisation's identity provider, as the use cases know them.

Rules that always hold: a subject has the same `key_id` in every worker and for ever, and it is no key's (a key's id has
no colon); whoever reads the ledger cannot turn it back into the subject without guessing it.
"""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

KEY_ID_PREFIX = "oidc:"
_DIGITS = 24


class IdentityProviderUnavailable(Exception):
    """Whether a token is good cannot be told just now: its signing key is not at hand, nor to be had."""


@dataclass(frozen=True, slots=True)
class TokenIdentity:
    """A verified token's subject. `scopes` are those of the service that its claims are mapped to."""

    key_id: str
    name: str
    scopes: tuple[str, ...]
    expires_at: datetime


VerifyToken = Callable[[str], TokenIdentity | None]
"""From a token to its subject; None for one that is not good. Raises: IdentityProviderUnavailable."""


def key_id_of(issuer: str, subject: str) -> str:
    """What stands in the ledger, the allowances and the cursors for a subject: 96 bits of SHA-256."""
    return KEY_ID_PREFIX + hashlib.sha256(f"{issuer}\n{subject}".encode()).hexdigest()[:_DIGITS]
