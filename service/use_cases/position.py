"""The position of an answer: which revision it is of, and which day; and the position that a question asks for.

Rules that always hold: without a revision named, a question is of the newest; a key that reads current costs alone
looks back a few weeks, as known now.
"""

from dataclasses import dataclass, field
from datetime import date, timedelta

from service.domain.errors import NotAllowed, WrongValue
from service.use_cases.ports import Head, Ledger

DAYS_OPEN_TO_COSTS_KEYS = 35


@dataclass(frozen=True, slots=True)
class Position:
    """What an answer is of: a revision, its hash, and the day. Of figures, the revision is one that moves them.

    `or_later` says of one that is asked for that a later revision of the day answers the question too.
    """

    revision: int
    hash: str
    day: date
    or_later: bool = field(default=False, compare=False)


def position_asked(ledger: Ledger, head: Head, today: date, as_of: date | None, known_at: int | None,
                   costs_only: bool) -> Position:
    """The position of a question: as of a day (today), as known at a revision (the head).

    Raises:  WrongValue above the head; NotAllowed for what a key with `costs:read` alone may not look back at.
    """
    day = as_of or today
    hold_to_days_open(day, today, costs_only, known_at)
    if known_at is None or known_at == head.revision:
        return Position(head.figures_revision, head.figures_hash, day, or_later=known_at is None)
    _hold_to_head(head, known_at)
    revision, revision_hash = ledger.figures_at(known_at)
    return Position(revision, revision_hash, day)


def position_recorded(head: Head, today: date, as_of: date | None, known_at: int | None) -> Position:
    """The position of a question about what moves no figure: the head itself, or the very revision that is named.

    Its hash is left empty: no tag is made from it.

    Raises:  WrongValue above the head.
    """
    if known_at is not None:
        _hold_to_head(head, known_at)
    return Position(head.revision if known_at is None else known_at, "", as_of or today)


def _hold_to_head(head: Head, known_at: int) -> None:
    if known_at > head.revision:
        raise WrongValue(f"The ledger is at revision {head.revision}; nothing is known at a later one.",
                         parameter="known_at")


def hold_to_days_open(day: date, today: date, costs_only: bool, known_at: int | None = None) -> None:
    """Hold a key with `costs:read` alone to today and the days just before, as known now.

    Raises:  NotAllowed.
    """
    if costs_only and (known_at is not None or not today - timedelta(days=DAYS_OPEN_TO_COSTS_KEYS) <= day <= today):
        raise NotAllowed(
            f"A key with costs:read alone reads today's costs and those of the last {DAYS_OPEN_TO_COSTS_KEYS} days, as "
            "known now; ask with a key that has the scope read.", scope="read")
