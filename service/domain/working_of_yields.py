"""The working of yields: what part of a kg of input an output is, declared or from the tests that count.

    from tests   yield = all that was weighed of the output / all that was paid for, test by test
    declared     yield as the breakdown says
"""

from fractions import Fraction

from service.domain.breakdown import Breakdown, Output
from service.domain.working import How, Operation, Part, RecordUsed, StepKey
from service.domain.working_book import WorkingBook, called
from service.domain.yield_test import YieldTest


def write_yield(book: WorkingBook, breakdown: Breakdown, output: Output) -> StepKey:
    """The output's yield, as a step that is written once."""
    key = ("yield", breakdown.code, output.cut)
    if key in book.steps:
        return key
    yields = book.yields(breakdown)
    words = f"{called(output)}: yield"
    if yields.basis == "declared":
        return book.steps.add(key, words, book.records.kept("breakdown", breakdown.code), "as declared",
                              Operation.GIVEN, [Part("yield", yields.fractions[output.cut], How.TAKE, "kg per kg")],
                              "kg per kg of input")
    record = book.records.tests(breakdown.code, yields)
    out = _write_weighed(book, breakdown, output, record)
    paid_for = _write_paid_for(book, breakdown, record)
    parts = [book.steps.part(out, How.MULTIPLY), book.steps.part(paid_for, How.DIVIDE)]
    return book.steps.add(key, words, record, "weight of the output / weight paid for, over the tests that count",
                          Operation.PRODUCT, parts, "kg per kg of input")


def _write_weighed(book: WorkingBook, breakdown: Breakdown, output: Output, record: RecordUsed) -> StepKey:
    parts = [_test_part(tested.test, tested.outputs[output.cut]) for tested in book.weighed(breakdown)]
    return book.steps.add(("weighed", breakdown.code, output.cut), f"{called(output)}: weighed in the tests",
                          record, "sum over the tests", Operation.SUM, parts, "kg")


def _write_paid_for(book: WorkingBook, breakdown: Breakdown, record: RecordUsed) -> StepKey:
    key = ("paid for", breakdown.code)
    if key not in book.steps:
        parts = [_test_part(tested.test, tested.paid_for) for tested in book.weighed(breakdown)]
        book.steps.add(key, f"{breakdown.name}: weight paid for in the tests", record, "sum over the tests",
                       Operation.SUM, parts, "kg")
    return key


def _test_part(test: YieldTest, kilograms: Fraction) -> Part:
    by = f", {test.butcher}" if test.butcher else ""
    unit = "" if test.unit == "kg" else f", weighed in {test.unit}"
    when = test.tested_on.isoformat()
    return Part(f"test {test.id} of {when}{by}{unit}", kilograms, How.ADD, "kg")
