"""Conditions on a write: who changes a record must have seen what is there.

Order of the checks: not found, then condition missing, then condition stale. `*` overwrites knowingly.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from service.domain.errors import PreconditionFailed, PreconditionRequired
from service.use_cases.documents import moment
from service.use_cases.ports import RecordedEntry


@dataclass(frozen=True, slots=True)
class Condition:
    """The tags that the client names (`If-Match`), `any_tag` for `*`, `create_only` for `If-None-Match: *`.

    Shape:   a tag is the revision of the record; after a point may stand that of the version that was shown.
    """

    tags: frozenset[str] | None = None
    any_tag: bool = False
    create_only: bool = False

    def holds_at(self, revision: int) -> bool:
        """Whether it names a record at that revision."""
        return self.any_tag or str(revision) in (self.tags or ())


CHANGES_TOLD = 20
"""A 412 tells the latest changes; the feed has them all."""

Changes = Callable[[int], Sequence[RecordedEntry]]
"""What happened to the record after a revision; asked for only when somebody has not seen it."""


def hold_to(condition: Condition, what: str, revision: int | None, changes_after: Changes) -> None:
    """Check a condition against the revision of the record that is there (None: there is none).

    Raises:  PreconditionRequired, PreconditionFailed with what changed since the newest tag named; where it may only be
             created, with how it came about: that may have been this very request, sent again by a proxy.
    """
    if revision is None:
        if condition.tags is not None or condition.any_tag:
            raise PreconditionFailed(f"There is no {what} to replace; leave If-Match out to create it.", revision=None)
        return
    if condition.create_only:
        raise PreconditionFailed(
            f"{_as_a_subject(what)} is there already, at revision {revision}; send If-Match \"{revision}\" to replace "
            "it.", revision=revision, **_what_happened(changes_after(revision - 1)))
    if condition.any_tag:
        return
    if condition.tags is None:
        raise PreconditionRequired(
            f"Changing {what} needs If-Match with the revision that you have seen: it is at \"{revision}\". "
            "`If-Match: *` overwrites whatever is there.", revision=revision)
    if str(revision) in {tag.partition(".")[0] for tag in condition.tags}:
        return
    raise PreconditionFailed(
        f"{_as_a_subject(what)} has changed: it is at revision {revision} now. Read it again and decide anew.",
        revision=revision, **_what_happened(changes_after(_seen_revision(condition))))


def _what_happened(changes: Sequence[RecordedEntry]) -> dict[str, Any]:
    """The members of a 412 that tell it."""
    return {"changes": [_told(entry) for entry in changes[-CHANGES_TOLD:]],
            "earlier_changes": max(0, len(changes) - CHANGES_TOLD)}


def _as_a_subject(what: str) -> str:
    """With a capital letter in front, and the rest as it is: a supplier's code may hold capitals of its own."""
    return what[:1].upper() + what[1:]


def _seen_revision(condition: Condition) -> int:
    """The newest revision among the client's tags: what changed after it is what it has not seen."""
    return max((int(seen) for seen in (tag.partition(".")[0] for tag in condition.tags or ())
                if seen.isascii() and seen.isdecimal() and len(seen) < 19), default=0)


def _told(entry: RecordedEntry) -> dict[str, object]:
    return {
        "revision": entry.mark.revision,
        "action": entry.action,
        "who": entry.who,
        "made_at": moment(entry.made_at),
        "record": dict(entry.document),
    }
