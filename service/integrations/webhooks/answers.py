"""What an answer to a webhook message comes to. Only its status and Retry-After count; the rest is nobody's business.

Source: Standard Webhooks 1.0.0, "Delivery success and failure"; RFC 9110 section 10.2.3 (Retry-After is seconds or a
date), section 5.6.7 (dates).
"""

import re
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from math import ceil

from service.use_cases.webhook_sending import Came, Outcome

GONE = 410
SECONDS = re.compile(r"[0-9]+")
MOST_SECONDS = 999_999_999
"""Some thirty years: what asks for more is read as this much."""


def outcome_of(status: int, retry_after: str | None, now: datetime) -> Outcome:
    """What a status with this Retry-After comes to."""
    if 200 <= status <= 299:
        return Outcome(Came.DELIVERED, status)
    if status == GONE:
        return Outcome(Came.GONE, status)
    return Outcome(Came.REFUSED, status, seconds_asked_for(retry_after, now))


def seconds_asked_for(retry_after: str | None, now: datetime) -> int | None:
    """Seconds from now on; 0 for a date that has passed, None for what is neither seconds nor a date."""
    text = (retry_after or "").strip()
    if SECONDS.fullmatch(text):
        return int(text) if len(text) <= len(str(MOST_SECONDS)) else MOST_SECONDS
    try:
        at = parsedate_to_datetime(text)
    except (ValueError, OverflowError):
        return None
    at = at.replace(tzinfo=UTC) if at.tzinfo is None else at
    return min(max(ceil((at - now) / timedelta(seconds=1)), 0), MOST_SECONDS)
