"""The timeline of figures: roll the days up to on_date(r), then apply r, and so on, up to today.

A place on it is (revision, day): what is known, and the day that the figures are of. Places are ordered; from one to
the next either a day begins (what was scheduled comes into force with no write) or a revision is applied.
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """A place on the timeline: as known at `revision`, as of `day`. The start of a ledger is at revision 0."""

    revision: int
    day: date


class MovedBy(StrEnum):
    """What leads from one place to the next."""

    REVISION = "revision"
    DATE = "date"
    START = "start"
    """The beginning of a feed: whatever is on the menu there comes onto it."""
    EARLIER = "earlier"
    """All that came before the days that a key may look back at, in one."""
