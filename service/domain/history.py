"""Versions of a record: which one is in force on a day, as known at a revision.

Nothing is overwritten. A record is the series of its versions; each carries the mark (revision and entry) that
made it and the day from which it holds. Rules that always hold:

- "recorded later" means the greater mark;
- on a day, the version in force is the one that starts latest among those that have started, then the one
  recorded later; a version without a start holds from the beginning;
- some facts are not dated (names, codes, conversions): they are those of the version recorded last, on every day;
- retiring is a version too.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import ClassVar, Generic, Protocol, TypeVar


class Dated(Protocol):
    """What a record must say to have versions: which of its facts are not dated."""

    UNDATED: ClassVar[tuple[str, ...]]


R = TypeVar("R", bound=Dated)


@dataclass(frozen=True, slots=True, order=True)
class Mark:
    """Where in the ledger something was recorded: the revision, and the entry within it (from 1)."""

    revision: int
    entry: int


@dataclass(frozen=True, slots=True)
class Version(Generic[R]):
    """One version of a record. `effective_from` None holds from the beginning."""

    record: R
    made: Mark
    effective_from: date | None = None
    retired: bool = False


History = tuple[Version[R], ...]
Histories = Mapping[str, History[R]]


def version_in_force(history: History[R], day: date) -> Version[R] | None:
    """The version that holds on `day` (it may say that the record is retired), or None before the first starts."""
    started = [version for version in history if version.effective_from is None or version.effective_from <= day]
    return max(started, key=_precedence, default=None)


def versions_from(history: History[R], day: date) -> tuple[Version[R], ...]:
    """Every version that is in force on `day` or on some later day, in the order they start."""
    now = version_in_force(history, day)
    starts = sorted({v.effective_from for v in history if v.effective_from is not None and v.effective_from > day})
    later = (version_in_force(history, start) for start in starts)
    return tuple(version for version in (now, *later) if version is not None)


def recorded_last(history: History[R]) -> Version[R]:
    """The version with the greatest mark: undated facts are read from it."""
    return max(history, key=lambda version: version.made) if len(history) > 1 else history[0]


def with_undated_facts(version: Version[R], history: History[R]) -> R:
    """The version's record with the facts that are not dated as they were recorded last."""
    last = recorded_last(history).record
    return version.record if last is version.record else _with_facts_of(version.record, last)


def differs_in_undated_facts_alone(record: R, other: R) -> bool:
    """Whether the two are equal, or would be once the facts of one that are not dated are those of the other."""
    return _with_facts_of(record, other) == other


def record_on(history: History[R], day: date) -> R | None:
    """The record as it stands on `day`; None when it has not started or is retired."""
    version = version_in_force(history, day)
    if version is None or version.retired:
        return None
    return with_undated_facts(version, history)


def _with_facts_of(record: R, other: R) -> R:
    """The record with the other's facts that are not dated."""
    if not record.UNDATED:
        return record
    return replace(record, **{name: getattr(other, name) for name in record.UNDATED})  # type: ignore[type-var]


def _precedence(version: Version[R]) -> tuple[date, Mark]:
    return (version.effective_from or date.min, version.made)
