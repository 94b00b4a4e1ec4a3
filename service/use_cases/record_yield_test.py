"""Record a yield test: the weights of one real breakdown, as the butcher read them off the scale."""

from dataclasses import replace

from service.domain.errors import Refused
from service.domain.history import Mark
from service.domain.yield_test import YieldTest
from service.use_cases.answered_once import Receipt, answered_once
from service.use_cases.documents import Document, yield_test_document
from service.use_cases.ports import Asker, Entry, Ledger, WriteWork
from service.use_cases.yield_test_faults import confirmation_fault, looked_at, weighed_against, yield_test_faults


def record_yield_test(ledger: Ledger, test: YieldTest, asker: Asker, unaccounted_confirmed: bool = False) -> Receipt:
    """Record a test (its mark is given here) and answer with it.

    `unaccounted_confirmed` says that so much was lost as the weights say, however much that is.

    Raises:  NotFound for the breakdown, Refused with every fault, IdempotencyKeyReused.
    """

    def effect(work: WriteWork) -> Document:
        kitchen, today = work.kitchen(), work.today
        breakdown = weighed_against(test, kitchen, today)
        faults = yield_test_faults(test, breakdown, kitchen, today)
        if not faults and not unaccounted_confirmed:
            faults = confirmation_fault(test, looked_at(test, breakdown, kitchen, today))
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
