"""Yields: what part of a kg of input each output is, declared or from the yield tests that count.

Rules that always hold:

- from tests, a yield is the ratio of sums: all that was weighed of the output over all that was paid for;
- a test counts from the day it was made, unless set aside with a reason; one weighed against another list of outputs
  is set aside by itself, and shown;
- of those, a breakdown may choose the last few, by test date and then by what was recorded later, or those made since a
  day; the others are shown as not chosen;
- with no test that counts, the declared yields stand, and the figures say so;
- what is left of 1 is unaccounted (purge, drip, the scale); it is below zero when the outputs outweigh the input.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from service.domain.breakdown import Breakdown, YieldsFrom
from service.domain.quantity import convert
from service.domain.yield_test import YieldTest

NIL = Fraction(0)
ONE = Fraction(1)


@dataclass(frozen=True, slots=True)
class Yields:
    """The yields of a breakdown on one day.

    Shape:   `basis` is "declared" or "tests"; `fractions` holds every output, losses too; `counting`,
             `set_aside_by_itself` and `not_chosen` are in order of test date.
    """

    basis: str
    fractions: Mapping[str, Fraction]
    counting: tuple[YieldTest, ...] = ()
    set_aside_by_itself: tuple[YieldTest, ...] = ()
    not_chosen: tuple[YieldTest, ...] = ()

    @property
    def unaccounted(self) -> Fraction:
        return ONE - sum(self.fractions.values(), NIL)


@dataclass(frozen=True, slots=True)
class WeighedTest:
    """A test's weights, exactly, in kg. `opened` is None when the input was not weighed again after draining."""

    test: YieldTest
    paid_for: Fraction
    opened: Fraction | None
    outputs: Mapping[str, Fraction]


def weighed(test: YieldTest) -> WeighedTest:
    """The test's weights in kg."""

    def kilograms(weight: Fraction) -> Fraction:
        return convert(weight, test.unit, "kg", ())

    return WeighedTest(
        test=test,
        paid_for=kilograms(Fraction(test.input_weight)),
        opened=None if test.opened_weight is None else kilograms(Fraction(test.opened_weight)),
        outputs={output.cut: kilograms(Fraction(output.weight)) for output in test.outputs},
    )


def yields_of(breakdown: Breakdown, tests: Iterable[YieldTest], day: date) -> Yields:
    """The yields that the breakdown's costs rest on, on `day`."""
    standing = sorted(
        (test for test in tests if test.set_aside is None and test.tested_on <= day), key=_in_order_of_date)
    listed = frozenset(output.cut for output in breakdown.outputs)
    matching = tuple(test for test in standing if test.cuts == listed)
    by_itself = tuple(test for test in standing if test.cuts != listed)
    first = _first_chosen(breakdown, matching)
    counting, not_chosen = matching[first:], matching[:first]
    if breakdown.yields_from is YieldsFrom.TESTS and counting:
        cuts = (output.cut for output in breakdown.outputs)
        return Yields("tests", ratios_of_sums(counting, cuts), counting, by_itself, not_chosen)
    return Yields("declared", declared_yields(breakdown), counting, by_itself, not_chosen)


def declared_yields(breakdown: Breakdown) -> dict[str, Fraction]:
    """Per output, the yield that the breakdown itself gives."""
    return {output.cut: Fraction(output.expected_yield) for output in breakdown.outputs}


def ratios_of_sums(tests: Iterable[YieldTest], cuts: Iterable[str]) -> dict[str, Fraction]:
    """Per cut, the sum of its weights over the sum of the input weights."""
    tested = [weighed(test) for test in tests]
    paid_for = sum((test.paid_for for test in tested), NIL)
    return {cut: sum((test.outputs[cut] for test in tested), NIL) / paid_for for cut in cuts}


def _first_chosen(breakdown: Breakdown, matching: Sequence[YieldTest]) -> int:
    """How many of the tests, in order of date, come before the first that the breakdown chooses."""
    last, since = breakdown.yields_from_last_tests, breakdown.yields_from_tests_since
    if last is not None:
        return max(0, len(matching) - last)
    return 0 if since is None else sum(test.tested_on < since for test in matching)


def _in_order_of_date(test: YieldTest) -> tuple[date, int, int]:
    return (test.tested_on, test.made.revision, test.made.entry)
