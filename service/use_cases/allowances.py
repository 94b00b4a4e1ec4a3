"""Allowances: how many requests a minute a holder (an access key, a feed link) may make, whichever worker it asks.

A worker leases a part of the holder's minute and counts that down by itself, so that a request costs no statement. A
lease is small at first and doubles while it is used up, to at most a 64th of the allowance and a 16th of what is left
of it, and never less than one request. So what a minute can lose is what workers hold that are not asked any more: at
most a 64th of the allowance each. Never more than the allowance is given, but for what is lent.

Where a lease is not to be had at once (on SQLite, another writer is at work), the worker lends the holder what the
lease would have been, and books it with the next one. Until then it lends at most a 16th of what it last saw left: of a
whole minute's allowance, what nearly four seconds of it hold. After that the holder waits a second.

Minutes are those of each worker's own clock, and each is booked under its start: where clocks differ, every worker
still finds what was booked of the minute that its own clock shows. Around the turn of a minute a holder can get what is
left of one and the whole of the next.

Units:   a tenth of a request: an answer that says that nothing changed counts so.
"""

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from service.use_cases.ledger_unavailable import LedgerUnavailable

MINUTE = 60
REQUEST, NOT_MODIFIED = 10, 1
FIRST_SHARE, LARGEST_SHARE = 256, 64
"""Of the allowance: the first lease, and the largest."""
LAST_SHARE, LENT_SHARE = 16, 16
"""Of what is left of it: the largest lease, and all that is lent until it is booked."""
FORGOTTEN_AFTER = 600
"""Seconds after which a holder who has not asked again is forgotten: a request takes less. Tokens bring new ones."""


class Bookings(Protocol):
    """What was leased of each holder's minutes, shared by all workers."""

    def book(self, holder: str, minute: int, units: int) -> int:
        """Add `units` to what is booked of the minute that starts at `minute` (seconds since 1970); the sum then.

        Raises:  LedgerUnavailable, at once, when it cannot be booked just now.
        """


@dataclass(frozen=True, slots=True)
class Taken:
    """Whether a request may go on, how many more would, as far as this worker knows, and when there are more.

    Shape:   `minute` is the start of the one that it was taken of.
    """

    refused: bool
    remaining: int
    seconds_to_more: int
    minute: int = field(default=0, compare=False)


class Allowances:
    """The allowances of one worker; its threads share it."""

    def __init__(self, bookings: Bookings, clock: Callable[[], datetime]) -> None:
        self._bookings, self._clock = bookings, clock
        self._shares: dict[str, _Share] = {}
        self._looked_through_at = 0

    def take(self, holder: str, per_minute: int, units: int = REQUEST) -> Taken:
        """Take `units` of a holder's allowance of `per_minute` requests; a refusal takes nothing."""
        now = int(self._clock().timestamp())
        share = self._share(holder)
        with share.lock:
            if share.starts != now - now % MINUTE:
                share.begin(now - now % MINUTE, per_minute * REQUEST)
            units = min(units, share.quota)
            if share.own < units:
                self._lease(holder, share, units - share.own, now)
            refused = share.own < units
            if refused:
                return Taken(True, 0, share.tried_again_in(now), share.starts)
            share.own -= units
            return Taken(False, share.remaining(), share.starts + MINUTE - now, share.starts)

    def give_back(self, holder: str, taken: Taken, units: int = REQUEST - NOT_MODIFIED) -> int:
        """Give back what a request turned out not to need; how many more would go on. To a minute that has passed
        meanwhile nothing is given back: the next one has its whole allowance as it is."""
        share = self._share(holder)
        with share.lock:
            if share.starts == taken.minute:
                share.own += units
            return share.remaining()

    def _share(self, holder: str) -> "_Share":
        share = self._shares.get(holder)
        if share is None:
            self._forget()
            share = self._shares.setdefault(holder, _Share())
        return share

    def _forget(self) -> None:
        """Forget whose minute has long passed; looked through at most once in that time."""
        before = int(self._clock().timestamp()) - FORGOTTEN_AFTER
        if self._looked_through_at <= before:
            self._looked_through_at = before + FORGOTTEN_AFTER
            for holder, share in self._shares.copy().items():
                if 0 <= share.starts < before:  # below 0: another thread has just made it
                    self._shares.pop(holder, None)

    def _lease(self, holder: str, share: "_Share", short: int, now: int) -> None:
        if share.elsewhere <= 0 or now < share.not_before:
            return
        size = share.next_lease(short)
        try:
            share.leased(size, self._bookings.book(holder, share.starts, share.lent + size))
        except LedgerUnavailable:
            share.lend(size, now)


class _Share:
    """What this worker holds of a holder's minute, in units. To be used under its lock."""

    __slots__ = ("elsewhere", "last", "lendable", "lent", "lock", "not_before", "own", "quota", "starts")

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.begin(-MINUTE, 0)

    def begin(self, starts: int, quota: int) -> None:
        """A new minute: what was held of another is lost with it."""
        self.starts, self.quota = starts, quota
        self.own = self.last = self.lent = self.not_before = 0
        self.elsewhere = quota
        self.lendable = max(REQUEST, quota // LENT_SHARE)

    def next_lease(self, short: int) -> int:
        """How much to lease where `short` is missing: whole requests, so that no worker is left with a part of one."""
        growing = max(2 * self.last, self.quota // FIRST_SHARE)
        share = min(growing, self.quota // LARGEST_SHARE, self.elsewhere // LAST_SHARE)
        return max(-(-short // REQUEST), 1, share // REQUEST) * REQUEST

    def leased(self, size: int, booked: int) -> None:
        """A lease was booked, and what had been lent before with it; `booked` is the sum with all other workers'."""
        self.own += min(size, max(0, self.quota - (booked - size)))
        self.elsewhere = max(0, self.quota - booked)
        self.lendable = self.elsewhere // LENT_SHARE
        self.last, self.lent = size, 0

    def lend(self, size: int, now: int) -> None:
        """Nothing could be booked: go on with as much, within the bound, and book it with the next lease."""
        size = min(size, self.lendable)
        self.own += size
        self.elsewhere -= size
        self.lendable -= size
        self.lent += size
        if size < REQUEST:
            self.not_before = now + 1

    def remaining(self) -> int:
        """Whole requests that are left, as far as this worker knows."""
        return max(0, self.own + self.elsewhere) // REQUEST

    def tried_again_in(self, now: int) -> int:
        """Seconds until a refused holder may have more: the next minute, or the next try to book."""
        return self.starts + MINUTE - now if self.elsewhere <= 0 else max(1, self.not_before - now)
