"""Who calls, as every request finds out first: the key, all that it opens, and the head that was read with it."""

from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from service.use_cases.keys import granted, who_asks
from service.use_cases.ports import Head, Ledger

_scopes_granted = lru_cache(maxsize=256)(granted)


@dataclass(frozen=True, slots=True)
class AskingKey:
    """Who calls: the key, all that it opens, how much it may ask, and the head that was read with it."""

    key_id: str
    name: str
    scopes: frozenset[str]
    head: Head
    requests_per_minute: int


def asking_key(ledger: Ledger, secret: str, now: datetime, requests_per_minute: int) -> AskingKey | None:
    """Who calls with a secret; None when it opens nothing. `requests_per_minute` holds for keys without their own."""
    head, key = who_asks(ledger, secret, now)
    if key is None:
        return None
    return AskingKey(key.id, key.name, _scopes_granted(key.scopes), head,
                     requests_per_minute if key.requests_per_minute is None else key.requests_per_minute)
