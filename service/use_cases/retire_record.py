"""Retire a record: from a day on it is no longer there. Nothing is erased, and nothing in force may still use it."""

from datetime import date
from functools import partial
from typing import Any

from service.domain.errors import Fault, NotFound, PeriodClosed, Refused
from service.domain.history import History, Version, record_on, recorded_last
from service.domain.kitchen import Kitchen
from service.use_cases.closed_period import period_fault
from service.use_cases.conditions import Condition, hold_to
from service.use_cases.documents import document
from service.use_cases.keep_record import stands
from service.use_cases.kinds import Change, Kind
from service.use_cases.network_checks import faults_of_retiring
from service.use_cases.ports import Asker, Entry, Ledger


def retire_record(
    ledger: Ledger, kind: Kind, code: str, effective_from: date | None, condition: Condition, asker: Asker
) -> int:
    """Retire the record from `effective_from` (today unless given) and return the revision that says so.

    Versions that are scheduled for later are retired with it, in the same revision.

    Raises:  NotFound, PreconditionRequired, PreconditionFailed, Refused with StillInUse naming the users, or with
             PeriodClosed.
    """
    with ledger.write(asker, kind.moves_figures) as work:
        kitchen = work.kitchen()
        history = kind.history(kitchen, code)
        if not stands(history, work.today):
            raise NotFound(f"There is no {kind.called(code)}.")
        last = recorded_last(history)
        hold_to(condition, kind.called(code), last.made.revision, partial(work.entries_of, kind.name, code))
        day = effective_from or work.today
        record = record_on(history, day) or last.record
        faults = [*faults_of_retiring(kind, Change(code, record, day), kitchen), *_closed(kind, code, day, kitchen)]
        if faults:
            raise Refused(faults)
        for start in (day, *_later_starts(history, day)):
            body = document(record) | {"effective_from": start.isoformat()}
            mark = work.next_mark(Entry("retire", kind.name, code, body))
            work.add_version(kind.name, code, Version(record, mark, start, retired=True))
        return mark.revision


def _closed(kind: Kind, code: str, day: date, kitchen: Kitchen) -> list[Fault]:
    """The fault of retiring what figures of a closed day rest on."""
    fault = period_fault(kitchen, day, f"Retiring {kind.called(code)} on {day}",
                         mend="retire it from {next_day} on") if kind.moves_figures else None
    return [] if fault is None else [PeriodClosed(fault.detail, parameter="effective_from", **fault.more)]


def _later_starts(history: History[Any], day: date) -> list[date]:
    """The days on which something else was scheduled: that too is called off, or the record would come back."""
    return sorted({version.effective_from for version in history
                   if version.effective_from is not None and version.effective_from > day and not version.retired})
