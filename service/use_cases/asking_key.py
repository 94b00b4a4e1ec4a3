"""Who calls, as every request finds out first: the key or token, all that it opens, and the head read with it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from service.use_cases import keys
from service.use_cases.keys import FORM, granted, who_asks
from service.use_cases.ports import Head, Ledger
from service.use_cases.token_identity import VerifyToken

_scopes_granted = lru_cache(maxsize=256)(granted)


@dataclass(frozen=True, slots=True)
class AskingKey:
    """Who calls: the key, all that it opens, how much it may ask, and the head that was read with it.

    `token_ends_at` is a token's own end; None for a key, whose end the ledger knows.
    """

    key_id: str
    name: str
    scopes: frozenset[str]
    head: Head
    requests_per_minute: int
    token_ends_at: datetime | None = None


def asking_key(ledger: Ledger, secret: str, now: datetime, requests_per_minute: int) -> AskingKey | None:
    """Who calls with a secret; None when it opens nothing. `requests_per_minute` holds for keys without their own."""
    if not FORM.fullmatch(secret):
        return None
    head, key = who_asks(ledger, secret, now)
    if key is None:
        return None
    return AskingKey(key.id, key.name, _scopes_granted(key.scopes), head,
                     requests_per_minute if key.requests_per_minute is None else key.requests_per_minute)


def asking_token(ledger: Ledger, verify: VerifyToken, token: str, requests_per_minute: int) -> AskingKey | None:
    """Who calls with a token of the identity provider; None when it is not good.

    Raises:  IdentityProviderUnavailable.
    """
    identity = verify(token)
    if identity is None:
        return None
    return AskingKey(identity.key_id, identity.name, _scopes_granted(identity.scopes), ledger.head(),
                     requests_per_minute, identity.expires_at)


@dataclass(frozen=True, slots=True)
class Callers:
    """Knows who calls: by a key, or by a token where an identity provider is set (`verify`)."""

    ledger: Ledger
    clock: Callable[[], datetime]
    requests_per_minute: int
    verify: VerifyToken | None = None

    def with_key(self, secret: str) -> AskingKey | None:
        """Who calls with a key."""
        return asking_key(self.ledger, secret, self.clock(), self.requests_per_minute)

    def with_token(self, token: str) -> AskingKey | None:
        """Who calls with a token.

        Raises:  IdentityProviderUnavailable.
        """
        if self.verify is None:
            return None
        return asking_token(self.ledger, self.verify, token, self.requests_per_minute)

    def still_opens(self, asking: AskingKey) -> bool:
        """Whether what was good when a request came still is: for requests that wait."""
        if asking.token_ends_at is not None:
            return asking.token_ends_at > self.clock()
        return keys.still_opens(self.ledger, asking.key_id, self.clock())
