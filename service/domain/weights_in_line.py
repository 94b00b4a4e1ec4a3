"""Whether the weights of a test are in line with what the breakdown usually gives: looked at before it is recorded.

What is expected of an output, as a fraction of the weight paid for:

    from eight tests that count on   within the limits of its control chart
    before                           the yield in force, a tenth of it and one percentage point up or down
    and never less than nil

and of what is unaccounted for (usual: what the yields in force leave of 1, or the declared ones if that is more; of
what the declared ones leave no more than a tenth is taken where tests count or nothing at all is declared, since a plan
that waits for its tests says nothing of what goes missing):

    from eight tests that count on   within the limits of its control chart
    before                           from the scale's tolerance below nil to twice the usual and two percentage points

A weight out of line is worth a second look. Where much of the input is missing, a weight was forgotten or misread: that
has to be confirmed. Much is more than twice the usual and five percentage points, and more than the chart's upper limit
where it has a say. What drained off is neither missing nor lean in the bin when the input was weighed again.

Rules that always hold: every comparison is exact, and the bound itself is in line.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from service.domain.breakdown import Breakdown, Role
from service.domain.control_chart import RUN, individuals_limits
from service.domain.yield_test import YieldTest
from service.domain.yields import WeighedTest, Yields, declared_yields, weighed

NIL, ONE, POINT = Fraction(0), Fraction(1), Fraction(1, 100)
TENTH = Fraction(1, 10)
LIMITS, DECLARED = "limits", "declared"
Weight = Callable[[WeighedTest], Fraction]


@dataclass(frozen=True, slots=True)
class Expected:
    """What is expected of a part of the input. `basis`: "limits" of the chart, else where the yields are from."""

    usual: Fraction
    low: Fraction
    high: Fraction
    basis: str


@dataclass(frozen=True, slots=True)
class WeightsExpected:
    """What is expected of every output, by cut, and of what is unaccounted for; what is missing above `much` has to be
    confirmed."""

    outputs: dict[str, Expected]
    unaccounted: Expected
    much: Fraction


@dataclass(frozen=True, slots=True)
class Looked:
    """What a test gave of a part of the input, as a fraction of the weight paid for, and what is expected."""

    share: Fraction
    expected: Expected

    @property
    def in_line(self) -> bool:
        return self.expected.low <= self.share <= self.expected.high


@dataclass(frozen=True, slots=True)
class WeightsLooked:
    """A test's weights beside what is expected.

    Shape:   `outputs` by cut; `missing` is what is in no output and did not drain off; above `much` it has to be
             confirmed. `lean_in_the_bin`: more loss and less trim than expected, each in sum.
    """

    outputs: dict[str, Looked]
    unaccounted: Looked
    missing: Fraction
    much: Fraction
    lean_in_the_bin: bool

    @property
    def much_is_missing(self) -> bool:
        return self.missing > self.much


def weights_expected(breakdown: Breakdown, yields: Yields, tolerance_percent: Decimal) -> WeightsExpected:
    """What is expected of a test before one weight of it is known; `yields` are the breakdown's."""
    counting = [weighed(one) for one in yields.counting]
    declared = sum(declared_yields(breakdown).values(), NIL)
    usual = _usually_unaccounted(yields, declared)
    near = Expected(usual, -Fraction(tolerance_percent) / 100, 2 * usual + 2 * POINT, yields.basis)
    unaccounted = _expected(near, counting, _unaccounted)
    much = 2 * usual + 5 * POINT
    nothing_known = yields.basis == DECLARED and not declared and len(counting) < RUN
    return WeightsExpected(
        {cut: Expected(NIL, NIL, ONE, yields.basis) if nothing_known
         else _expected_of(counting, _weight_of(cut), usually, yields.basis)
         for cut, usually in yields.fractions.items()},
        unaccounted, max(much, unaccounted.high) if unaccounted.basis == LIMITS else much)


def _usually_unaccounted(yields: Yields, declared: Fraction) -> Fraction:
    """What is usually in no output; `declared` is the sum of the declared yields."""
    if yields.basis == DECLARED:
        return ONE - declared if declared else TENTH
    return max(yields.unaccounted, min(ONE - declared, TENTH))


def weights_looked(breakdown: Breakdown, test: YieldTest, yields: Yields, tolerance_percent: Decimal) -> WeightsLooked:
    """Look at a test that has no fault, before it is recorded; `yields` are the breakdown's without it."""
    made, counting = weighed(test), [weighed(one) for one in yields.counting]
    expected = weights_expected(breakdown, yields, tolerance_percent)
    unaccounted = Looked(_unaccounted(made) / made.paid_for, expected.unaccounted)
    outputs = {cut: Looked(made.outputs[cut] / made.paid_for, one) for cut, one in expected.outputs.items()}
    drained = NIL if made.opened is None else made.paid_for - made.opened
    return WeightsLooked(outputs, unaccounted, unaccounted.share - drained / made.paid_for, expected.much,
                         _lean(breakdown, made, counting, yields))


def _looked(made: WeighedTest, counting: Sequence[WeighedTest], weight: Weight, usual: Fraction, basis: str) -> Looked:
    return Looked(weight(made) / made.paid_for, _expected_of(counting, weight, usual, basis))


def _expected_of(counting: Sequence[WeighedTest], weight: Weight, usual: Fraction, basis: str) -> Expected:
    reach = usual * TENTH + POINT
    expected = _expected(Expected(usual, usual - reach, min(ONE, usual + reach), basis), counting, weight)
    return replace(expected, low=max(NIL, expected.low))


def _expected(near: Expected, counting: Sequence[WeighedTest], weight: Weight) -> Expected:
    """The limits of the chart from eight tests on; `near` before."""
    limits = individuals_limits([weight(test) / test.paid_for for test in counting]) if len(counting) >= RUN else None
    if limits is None:
        return near
    low, high, _ = limits
    return Expected(near.usual, low, high, LIMITS)


def _lean(breakdown: Breakdown, test: WeighedTest, tests: Sequence[WeighedTest], yields: Yields) -> bool:
    """Of what lay on the block, less trim than expected, and more loss, what is unaccounted for too."""
    trim = [output.cut for output in breakdown.outputs if output.role is Role.TRIM]
    used = [output.cut for output in breakdown.outputs if output.role is not Role.LOSS]
    if not trim:
        return False
    made, counting, fractions = _on_the_block(test, tests, yields)
    trimmed, kept = (sum((fractions[cut] for cut in cuts), NIL) for cuts in (trim, used))
    now_trim = _looked(made, counting, _weight_of(*trim), trimmed, yields.basis)
    now_loss = _looked(made, counting, lambda test: test.paid_for - _weight_of(*used)(test), ONE - kept, yields.basis)
    return now_trim.share < now_trim.expected.low and now_loss.share > now_loss.expected.high


def _on_the_block(made: WeighedTest, counting: Sequence[WeighedTest], yields: Yields
                  ) -> tuple[WeighedTest, Sequence[WeighedTest], Mapping[str, Fraction]]:
    """A test, those before it, and the usual yields, of what lay on the block where the test was weighed again when
    opened: of those before only where each of them was, else they are expected to have lost what drained off too."""
    if made.opened is None or not counting or any(test.opened is None for test in counting):
        return _drained(made), counting, yields.fractions
    drained = [_drained(test) for test in counting]
    if yields.basis == DECLARED:
        return _drained(made), drained, yields.fractions
    on_the_block = sum((test.paid_for for test in drained), NIL)
    return _drained(made), drained, {
        cut: sum((test.outputs[cut] for test in drained), NIL) / on_the_block for cut in yields.fractions}


def _drained(test: WeighedTest) -> WeighedTest:
    return test if test.opened is None else replace(test, paid_for=test.opened)


def _weight_of(*cuts: str) -> Weight:
    """Some outputs together."""
    return lambda test: sum((test.outputs[cut] for cut in cuts), NIL)


def _unaccounted(test: WeighedTest) -> Fraction:
    return test.paid_for - sum(test.outputs.values(), NIL)
