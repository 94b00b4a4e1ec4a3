"""What must be right before a yield test is recorded; asked before recording one, and by whoever only checks it."""

from datetime import date
from fractions import Fraction

from service.domain.balance import check_test
from service.domain.breakdown import Breakdown
from service.domain.errors import Fault, NotFound, UnaccountedNotConfirmed, WrongValue
from service.domain.history import record_on, recorded_last
from service.domain.kitchen import Kitchen
from service.domain.publication import cost_in_words, percent_in_words
from service.domain.rounding import published, text
from service.domain.weights_in_line import WeightsLooked, weights_looked
from service.domain.yield_test import YieldTest
from service.domain.yields import yields_of
from service.use_cases.closed_period import period_fault
from service.use_cases.keep_record import stands
from service.use_cases.line_checks import reference_fault

WEIGHT_PLACES = 3
_SHOWN_PLACES = {"g": 0, "oz": 1}


def weighed_against(test: YieldTest, kitchen: Kitchen, today: date) -> Breakdown:
    """The breakdown as it stood on the day of the test, else as it was recorded last.

    Raises:  NotFound when there is none today.
    """
    history = kitchen.breakdowns.get(test.breakdown, ())
    if not stands(history, today):
        raise NotFound(f"There is no breakdown {test.breakdown!r}; record it first.")
    breakdown: Breakdown = record_on(history, test.tested_on) or recorded_last(history).record
    return breakdown


def yield_test_faults(test: YieldTest, breakdown: Breakdown, kitchen: Kitchen, today: date) -> list[Fault]:
    """Every reason why the test cannot be right."""
    faults: list[Fault] = []
    if test.tested_on > today:
        faults.append(WrongValue(f"A test was made today, {today}, or earlier.", "#/tested_on"))
    closed = period_fault(kitchen, test.tested_on, f"A test of {test.tested_on}", "#/tested_on", mend="leave it out")
    faults.extend([closed] if closed is not None else [])
    if test.supplier is not None:
        supplier = reference_fault(kitchen, "supplier", test.supplier, today)
        faults.extend([supplier.at("#/supplier")] if supplier is not None else [])
    faults.extend(check_test(breakdown, test, kitchen.settings_on(today).scale_tolerance_percent))
    return faults


def looked_at(test: YieldTest, breakdown: Breakdown, kitchen: Kitchen, today: date) -> WeightsLooked:
    """The weights of a test that has no fault, beside what the tests that count today say."""
    yields = yields_of(breakdown, kitchen.yield_tests.get(breakdown.code, ()), today)
    return weights_looked(breakdown, test, yields, kitchen.settings_on(today).scale_tolerance_percent)


def confirmation_fault(test: YieldTest, looked: WeightsLooked) -> list[Fault]:
    """That much of the input is missing, which somebody has to confirm; empty where it is not so."""
    if not looked.much_is_missing:
        return []
    percent, usual, much = (percent_in_words(share * 100) for share in (
        looked.missing, looked.unaccounted.expected.usual, looked.much))
    return [UnaccountedNotConfirmed(
        f"{weight_in_words(looked.missing, test)} of the input ({percent} %) is in no output; usually it is {usual} %. "
        "Weigh again; if it is so, say unaccounted_confirmed: true.", "#/unaccounted_confirmed",
        unaccounted_weight=cost_in_words(looked.missing * Fraction(test.input_weight)), unit=test.unit,
        unaccounted_percent=percent, confirm_above_percent=much)]


def weight_in_words(share: Fraction, test: YieldTest) -> str:
    """A part of a test's input as a sentence has it: to a gram or so, as kitchen scales show."""
    weight = text(published(share * Fraction(test.input_weight), _SHOWN_PLACES.get(test.unit, WEIGHT_PLACES)))
    return f"{weight} {test.unit}"
