"""Set a yield test aside: it stays on record with the reason, and no longer counts."""

from dataclasses import replace

from service.domain.errors import NotFound, WrongValue
from service.domain.price import Withdrawal
from service.use_cases.answered_once import Receipt, answered_once
from service.use_cases.closed_period import period_fault
from service.use_cases.documents import Document, yield_test_document
from service.use_cases.ports import Asker, Entry, Ledger, WriteWork


def set_aside_yield_test(ledger: Ledger, breakdown: str, test_id: str, reason: str, asker: Asker) -> Receipt:
    """Set one test of a breakdown aside.

    Raises:  NotFound, WrongValue when it is set aside already, PeriodClosed when it counted on a closed day.
    """

    def effect(work: WriteWork) -> Document:
        kitchen = work.kitchen()
        tests = kitchen.yield_tests.get(breakdown, ())
        test = next((test for test in tests if test.id == test_id), None)
        if test is None:
            raise NotFound(f"Breakdown {breakdown!r} has no yield test {test_id!r}.")
        if test.set_aside is not None:
            raise WrongValue(f"Test {test_id!r} was set aside at revision {test.set_aside.made.revision} already.")
        closed = period_fault(kitchen, test.tested_on, f"Setting aside a test of {test.tested_on}",
                              mend="let it stand")
        if closed is not None:
            raise closed
        entry = Entry("set_aside_yield_test", "yield_test", breakdown, {"id": test_id, "reason": reason})
        aside = replace(test, set_aside=Withdrawal(work.next_mark(entry), reason))
        work.set_aside_yield_test(aside)
        return yield_test_document(aside)

    return answered_once(ledger, asker, effect)
