"""Sending one webhook message: what a try can come to, and what the deliverer needs from outside for it.

Source: Standard Webhooks 1.0.0 (only 2xx is success, 3xx is failure, 410 ends the subscription, Retry-After is
honoured).
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum


class Came(StrEnum):
    """What came of one try."""

    DELIVERED = "delivered"
    REFUSED = "refused"
    GONE = "gone"
    TIMED_OUT = "timed_out"
    NOT_REACHED = "not_reached"
    TARGET_REFUSED = "target_refused"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one try: `delivered` for 2xx, `gone` for 410, `refused` for any other status (redirects too).

    Shape:   `status` is None where no answer came. `target_refused`: we did not ask, the address is not to be called.
    Units:   `retry_after_seconds` as the receiver asked for, None where it did not.
    """

    came: Came
    status: int | None = None
    retry_after_seconds: int | None = None


Send = Callable[[str, Mapping[str, str], bytes], Outcome]
"""Post these bytes with these header fields to a URL, once. Never raises for what a receiver or the network does."""

CheckTarget = Callable[[str], None]
"""Hold a URL to what may be called, before it is kept: its form, and every address that its name resolves to now.

Raises:  WrongValue at `#/url`, with the mend.
"""
