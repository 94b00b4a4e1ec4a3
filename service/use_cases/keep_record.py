"""Keep a record: create it, replace it, or find that it is already so. One function for every kind of kept record.

One request, one revision, with an entry for the record and one for each record that changes with it. A record equal
to what is in force takes none.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Any

from service.domain.errors import Fault, Refused
from service.domain.history import (
    History,
    Version,
    differs_in_undated_facts_alone,
    record_on,
    recorded_last,
    version_in_force,
    with_undated_facts,
)
from service.domain.kitchen import Kitchen
from service.use_cases.closed_period import period_fault
from service.use_cases.conditions import Condition, hold_to
from service.use_cases.documents import Document, document
from service.use_cases.kinds import Change, Kind
from service.use_cases.network_checks import network_faults
from service.use_cases.ports import Asker, Entry, Ledger, WriteWork


@dataclass(frozen=True, slots=True)
class Kept:
    """What came of it. `outcome` is "created", "replaced" or "unchanged"."""

    document: Document
    outcome: str


def keep_record(
    ledger: Ledger, kind: Kind, code: str, record: Any, effective_from: date | None, condition: Condition, asker: Asker
) -> Kept:
    """Record a version of `record` from `effective_from` (today unless given; a first one from the beginning).

    Raises:  Refused with every fault, NotFound for what it would belong to, PreconditionRequired, PreconditionFailed.
    """
    with ledger.write(asker, kind.moves_figures) as work:
        kitchen = work.kitchen()
        history = kind.history(kitchen, code)
        change = Change(code, record, effective_from or work.today)
        _refuse([fault for fault in (kind.owner(change, kitchen),) if fault is not None])
        if record_on(history, change.day) == record and not condition.create_only:
            return Kept(record_document(history, change.day), "unchanged")
        there = _revision(history) if stands(history, work.today) else None
        if there is not None or not (kind.has_defaults and condition.holds_at(0)):
            hold_to(condition, kind.called(code), there, partial(work.entries_of, kind.name, code))
        consequences = kind.consequences(change, kitchen)
        first = not history and kind.from_the_beginning(change, kitchen)
        start = effective_from if first else change.day
        _refuse([*kind.check(change, kitchen), *_closed(kind, change, start, kitchen, consequences)])
        starts = [start, *(_retired_starts(history, change.day) if there is None else ())]
        versions = _versions(work, kind, change, starts, consequences)
        after = _after(kitchen, kind, versions)
        _refuse(network_faults(kind, change, kitchen, after))
        for code_kept, version in versions:
            work.add_version(kind.name, code_kept, version)
        kept = kind.history(after, code)
        outcome = "created" if there is None else "replaced"
        return Kept(record_document(kept, change.day), outcome)


def record_document(history: History[Any], day: date) -> Document:
    """The record as it stands on `day` (or as it will first stand), with its tag, its start and what is scheduled.

    `revision` recorded it last; `version_revision` recorded the version shown, which is another while a later one is
    scheduled: so that what comes into force at midnight has another tag without a write.
    """
    later = [v for v in history if v.effective_from is not None and v.effective_from > day]
    version = version_in_force(history, day)
    if (version is None or version.retired) and later:
        version = min(later, key=lambda v: (v.effective_from or date.min, v.made))
    shown = version if version is not None else recorded_last(history)
    return document(with_undated_facts(shown, history)) | {
        "revision": _revision(history),
        "version_revision": shown.made.revision,
        "in_force_from": shown.effective_from and shown.effective_from.isoformat(),
        "scheduled": [start.isoformat() for start in sorted({v.effective_from for v in later if v.effective_from})]}


def stands(history: History[Any], day: date) -> bool:
    """Whether there is such a record on `day` or, once started, later."""
    if not history:
        return False
    return record_on(history, day) is not None or any(
        not v.retired and v.effective_from is not None and v.effective_from > day for v in history)


def _revision(history: History[Any]) -> int:
    return recorded_last(history).made.revision


def _refuse(faults: Sequence[Fault]) -> None:
    if faults:
        raise Refused(faults)


def _versions(
    work: WriteWork, kind: Kind, change: Change, starts: Sequence[date | None], consequences: Sequence[tuple[str, Any]]
) -> list[tuple[str, Version[Any]]]:
    """The versions to be added, each with the mark of the entry that says so; the first is the change itself."""
    kept = [*((change.code, change.record, start) for start in starts),
            *((code, record, change.day) for code, record in consequences)]
    return [(code, Version(record, work.next_mark(_entry(kind, code, record, since)), since))
            for code, record, since in kept]


def _closed(kind: Kind, change: Change, start: date | None, kitchen: Kitchen, consequences: Sequence[tuple[str, Any]]
            ) -> list[Fault]:
    """The fault of a version that would begin to hold on a closed day.

    A first version without a start holds from the beginning and is let in: nothing used what was not there, so no
    figure that was published rests on it. Facts that are not dated may change: they hold on all days by what they are.
    So the settings can be kept on a closed day too, as long as only such facts differ; `closed_through` is one.
    """
    if start is None or not kind.moves_figures:
        return []
    standing = record_on(kind.history(kitchen, change.code), change.day)
    if standing is not None and not consequences and differs_in_undated_facts_alone(standing, change.record):
        return []
    fault = period_fault(kitchen, start, f"A version of {kind.called(change.code)} that starts on {start}",
                         "#/effective_from")
    return [] if fault is None else [fault]


def _retired_starts(history: History[Any], day: date) -> list[date]:
    """Later days on which a record that is revived would be retired again: what was scheduled went with it."""
    return sorted({version.effective_from for version in history
                   if version.retired and version.effective_from is not None and version.effective_from > day})


def _entry(kind: Kind, code: str, record: Any, since: date | None) -> Entry:
    body = document(record) | {"effective_from": since and since.isoformat()}
    return Entry("keep", kind.name, code, body)


def _after(kitchen: Kitchen, kind: Kind, versions: Sequence[tuple[str, Version[Any]]]) -> Kitchen:
    for code, version in versions:
        kitchen = kitchen.with_version(kind.name, code, version)
    return kitchen
