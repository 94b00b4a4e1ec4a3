"""The provider's signing keys, kept: read when first needed, and again when they are an hour old or one is unknown.

Rules that always hold: nothing is read before a token comes; at most one read a minute, whatever tokens come, and one
at a time; who does not need it does not wait for it, and who does waits a second. While the provider cannot be reached
the keys at hand go on for a day: then nothing says any more that they are still its keys. A key that the provider has
taken back ends at the next reading.
"""

import logging
import threading
from collections.abc import Callable, Mapping
from time import monotonic
from typing import NamedTuple

from service.integrations.identity.fetching import NotFetched
from service.integrations.identity.signing_keys import SigningKey
from service.use_cases.token_identity import IdentityProviderUnavailable

READ_AGAIN_AFTER, LONGEST_KEPT, TRIED_AT_MOST_EVERY, PATIENCE = 3_600.0, 86_400.0, 60.0, 1.0
_LOG = logging.getLogger("seamcost.identity")


class _Read(NamedTuple):
    """A set of keys, and when it was read."""

    keys: Mapping[str, SigningKey]
    at: float


class KeysAtHand:
    """The keys of one provider in one worker; its threads share them. `read` gives the set, or raises NotFetched."""

    def __init__(self, read: Callable[[], Mapping[str, SigningKey]], clock: Callable[[], float] = monotonic) -> None:
        self._read, self._clock = read, clock
        self._reading = threading.Lock()
        self._last: _Read | None = None
        self._tried_at, self._failed = float("-inf"), False

    def of(self, kid: str) -> SigningKey | None:
        """The key of a `kid`; None when the provider has none such.

        Raises:  IdentityProviderUnavailable when that cannot be told just now.
        """
        if self._at_hand(kid, READ_AGAIN_AFTER) is None and self._may_try():
            self._try(patience=0 if self._at_hand(kid, LONGEST_KEPT) else PATIENCE)
        key = self._at_hand(kid, LONGEST_KEPT)
        if key is None and (self._failed or self._last is None or self._age(self._last) >= LONGEST_KEPT):
            raise IdentityProviderUnavailable
        return key

    def _at_hand(self, kid: str, newer_than: float) -> SigningKey | None:
        last = self._last
        return last.keys.get(kid) if last is not None and self._age(last) < newer_than else None

    def _age(self, last: _Read) -> float:
        return self._clock() - last.at

    def _may_try(self) -> bool:
        return self._clock() - self._tried_at >= TRIED_AT_MOST_EVERY or self._reading.locked()

    def _try(self, patience: float) -> None:
        """Read the keys, unless another thread did meanwhile.

        Raises:  IdentityProviderUnavailable where another still does, and has not finished in time.
        """
        if not self._reading.acquire(timeout=patience):
            if patience:
                raise IdentityProviderUnavailable
            return
        try:
            if self._clock() - self._tried_at >= TRIED_AT_MOST_EVERY:
                self._tried_at = self._clock()
                self._take()
        finally:
            self._reading.release()

    def _take(self) -> None:
        try:
            keys, self._failed = self._read(), False
        except NotFetched as failure:
            self._failed = True
            _LOG.warning("the identity provider's keys cannot be read: %s", failure)
            return
        before = self._last.keys if self._last is not None else {}
        same = {kid: before[kid] for kid, key in keys.items() if before.get(kid) == key}
        self._last = _Read({**keys, **same}, self._clock())
