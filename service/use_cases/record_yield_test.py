"""Record a yield test: the weights of one real breakdown, as the butcher read them off the scale."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from service.domain.balance import check_test
from service.domain.breakdown import Breakdown
from service.domain.errors import Fault, NotFound, Refused, WrongValue
from service.domain.history import History, Mark, record_on, recorded_last
from service.domain.kitchen import Kitchen
from service.domain.yield_test import YieldTest
from service.use_cases.answered_once import Receipt, answered_once
from service.use_cases.closed_period import period_fault
from service.use_cases.documents import Document, yield_test_document
from service.use_cases.keep_record import stands
from service.use_cases.line_checks import reference_fault
from service.use_cases.ports import Asker, Entry, Ledger, WriteWork


def record_yield_test(ledger: Ledger, test: YieldTest, asker: Asker) -> Receipt:
    """Record a test (its mark is given here) and answer with it.

    Raises:  NotFound for the breakdown, Refused with every fault, IdempotencyKeyReused.
    """

    def effect(work: WriteWork) -> Document:
        kitchen = work.kitchen()
        history = kitchen.breakdowns.get(test.breakdown, ())
        if not stands(history, work.today):
            raise NotFound(f"There is no breakdown {test.breakdown!r}; record it first.")
        faults = _faults(test, history, kitchen, work)
        if faults:
            raise Refused(faults)
        body = yield_test_document(test)
        del body["id"], body["revision"]
        recorded = replace(test, made=work.next_mark(Entry("record_yield_test", "yield_test", test.breakdown, body)))
        work.add_yield_test(recorded)
        return yield_test_document(recorded)

    return answered_once(ledger, asker, effect)


def unmarked() -> Mark:
    """The mark of a test that is not recorded yet."""
    return Mark(0, 0)


def _faults(test: YieldTest, history: History[Any], kitchen: Kitchen, work: WriteWork) -> Sequence[Fault]:
    faults: list[Fault] = []
    if test.tested_on > work.today:
        faults.append(WrongValue(f"A test was made today, {work.today}, or earlier.", "#/tested_on"))
    closed = period_fault(kitchen, test.tested_on, f"A test of {test.tested_on}", "#/tested_on", mend="leave it out")
    faults.extend([closed] if closed is not None else [])
    if test.supplier is not None:
        supplier = reference_fault(kitchen, "supplier", test.supplier, work.today)
        faults.extend([supplier.at("#/supplier")] if supplier is not None else [])
    tolerance = kitchen.settings_on(work.today).scale_tolerance_percent
    faults.extend(check_test(_weighed_against(test, history), test, tolerance))
    return faults


def _weighed_against(test: YieldTest, history: History[Any]) -> Breakdown:
    """The breakdown as it stood on the day of the test, else as it was recorded last."""
    breakdown: Breakdown = record_on(history, test.tested_on) or recorded_last(history).record
    return breakdown
