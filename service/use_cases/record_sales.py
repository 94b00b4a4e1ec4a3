"""Record sales: what the POS sold on one business date or on several, in one revision.

The later sending for a date replaces the earlier one, whole; both are kept. A sending that says the same takes no
revision, so it is safe to repeat. Sales move no figure of the menu; what the menu should have cost rests on them, so
those of a closed day stay as they are. A code that no dish bears is kept and told: a dish may get it later.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from service.domain.errors import Fault, LimitPassed, PeriodClosed, Refused, WrongValue
from service.domain.history import Mark
from service.domain.kitchen import Kitchen
from service.domain.pos_codes import PosCodes, Resolved
from service.domain.sales import SalesDay, SalesLine
from service.use_cases.answered_once import Receipt, answered_once
from service.use_cases.closed_period import period_fault
from service.use_cases.documents import Document
from service.use_cases.ports import Asker, Entry, Ledger, WriteWork
from service.use_cases.sales_documents import line_documents, totals_document
from service.use_cases.sales_files import MOST_DAYS, MOST_LINES, MOST_LINES_OF_A_DAY, SentDay


def record_sales(ledger: Ledger, sent: Sequence[SentDay], asker: Asker) -> Receipt:
    """Record the sales of each date, and answer with what came of each.

    Raises:  Refused with every date that is still to come, closed, or has too many lines; IdempotencyKeyReused.
    """
    _hold_to_bounds(sent)

    def effect(work: WriteWork) -> Document:
        kitchen = work.kitchen()
        standing = work.sales.standing([day.business_date for day in sent])
        changed = [day for day in sent if not _is_so(day, standing)]
        faults = [fault for day in changed for fault in _faults(day, kitchen, work.today)]
        if faults:
            raise Refused(faults)
        marks = {day.business_date: _keep(work, day) for day in changed}
        codes = PosCodes(kitchen.dishes)
        return {"revision": work.head.revision + bool(marks), "days": [
            _day(day, standing, marks) | _codes(day, codes) for day in sent]}

    return answered_once(ledger, asker, effect, moves_figures=False)


def _hold_to_bounds(sent: Sequence[SentDay]) -> None:
    """Before the ledger is locked.

    Raises:  Refused.
    """
    faults: list[Fault] = [
        _limit(f"{day.business_date} has {len(day.lines):,} lines; at most {MOST_LINES_OF_A_DAY:,} are kept of a day. "
               "Add up those of one code and kind.", "lines_of_a_day", MOST_LINES_OF_A_DAY, len(day.lines), day.where)
        for day in sent if len(day.lines) > MOST_LINES_OF_A_DAY]
    lines = sum(len(day.lines) for day in sent)
    if lines > MOST_LINES:
        faults.append(_limit(f"{lines:,} lines are more than the {MOST_LINES:,} of one request; send fewer dates at a "
                             "time.", "lines", MOST_LINES, lines, {}))
    if len(sent) > MOST_DAYS:
        faults.append(_limit(f"{len(sent)} dates are more than the {MOST_DAYS} of one request; send fewer at a time.",
                             "dates", MOST_DAYS, len(sent), {}))
    if faults:
        raise Refused(faults)


def _limit(detail: str, limit: str, at_most: int, found: int, where: Mapping[str, Any]) -> LimitPassed:
    return LimitPassed(detail, **{"pointer": None, **where}, limit=limit, at_most=at_most, found=found)


def _is_so(day: SentDay, standing: Mapping[date, SalesDay]) -> bool:
    there = standing.get(day.business_date)
    return there is not None and there.says(day.lines)


def _faults(day: SentDay, kitchen: Kitchen, today: date) -> Iterator[Fault]:
    if day.business_date > today:
        yield WrongValue(f"{day.business_date} is still to come: the business day is {today}. Send what was sold when "
                         "it was.", **{"pointer": None, **day.where})
    closed = period_fault(kitchen, day.business_date, f"Other sales of {day.business_date}",
                          mend="leave them as they are")
    if closed is not None:
        yield PeriodClosed(closed.detail, **{"pointer": None, **day.where}, **closed.more)


def _keep(work: WriteWork, day: SentDay) -> Mark:
    """Store a date's sales, with the entry that says them line by line."""
    when = day.business_date.isoformat()
    entry = Entry("record_sales", "sales", when, {"business_date": when, "lines": line_documents(day.lines)})
    mark = work.next_mark(entry)
    work.sales.keep(SalesDay(day.business_date, tuple(day.lines), mark))
    return mark


def _day(day: SentDay, standing: Mapping[date, SalesDay], marks: Mapping[date, Mark]) -> Document:
    there = standing.get(day.business_date)
    mark = marks.get(day.business_date)
    outcome = "unchanged" if mark is None else "recorded" if there is None else "replaced"
    made = mark or (there.made if there is not None else None)
    return {"business_date": day.business_date.isoformat(), "revision": made and made.revision, "outcome": outcome,
            } | totals_document(day.lines)


def _codes(day: SentDay, codes: PosCodes) -> Document:
    """The codes that do not tell a dish of that day's menu."""
    told: dict[Resolved, list[Document]] = {each: [] for each in Resolved}
    for pos_code in _in_order(day.lines):
        bearers = codes.on_day(pos_code, day.business_date)
        told[bearers.resolved].append({"pos_code": pos_code, "dishes": list(bearers.dishes)})
    return {"unknown_pos_codes": [each["pos_code"] for each in told[Resolved.UNKNOWN]],
            "shared_pos_codes": told[Resolved.SHARED], "pos_codes_not_on_menu": told[Resolved.NOT_ON_MENU]}


def _in_order(lines: Sequence[SalesLine]) -> Sequence[str]:
    return sorted({line.pos_code for line in lines})
