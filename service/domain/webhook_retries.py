"""When the delivery of a message is tried again, and when it is given up.

Ten tries over some three days, the longer apart the more have failed, with some jitter so that messages which failed
together do not come back together. What the receiver asks for (Retry-After) is honoured up to a day, and never to try
earlier. An answer that says "too much" or "not now" slows down everything for that receiver, not the one message.

Source: Standard Webhooks 1.0.0, "Deliverability and reliability" (retries over days with back-off and jitter;
Retry-After; 429, 502 and 504 slow down); RFC 9110 section 15.6.4 for 503.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

WAITS = (5, 300, 1_800, 7_200, 18_000, 36_000, 50_400, 72_000, 86_400)
"""Seconds after the first try, the second, and so on: 75 hours and 35 minutes in all."""
TRIES = len(WAITS) + 1
MOST_JITTER_PERMILLE = 100
LONGEST_ASKED_FOR = 86_400
SLOW_DOWN = frozenset((429, 502, 503, 504))
PAUSE = 30
"""Seconds that a receiver is left alone that says "not now" without saying for how long."""


@dataclass(frozen=True, slots=True)
class Again:
    """What follows a try that failed: the next one (None: it was the last), and until when the receiver is spared."""

    due_at: datetime | None
    paused_until: datetime | None


def after_failure(tries: int, now: datetime, status: int | None, asked_for: int | None, jitter_permille: int) -> Again:
    """What follows the `tries`-th try in vain.

    Units:   `asked_for` in seconds; `jitter_permille` from 0 to MOST_JITTER_PERMILLE, of the wait.
    Example: the third in vain waits half an hour, and up to three minutes more.
    """
    asked = min(asked_for or 0, LONGEST_ASKED_FOR)
    paused = now + timedelta(seconds=asked or PAUSE) if status in SLOW_DOWN else None
    if tries >= TRIES:
        return Again(None, paused)
    wait = WAITS[tries - 1]
    return Again(now + timedelta(seconds=max(wait + wait * jitter_permille // 1_000, asked)), paused)
