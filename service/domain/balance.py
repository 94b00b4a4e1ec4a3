"""The balance: what comes off the block cannot weigh more than what went onto it.

Checks of a breakdown and of a yield test when they are recorded. Each answers with every fault at once, pointing at
the field of the request. What cannot be right in itself is a fault; what prices, values or other records can take away
(no value to share on, credits above the cost, nothing that carries it) is a gap of the figures, and no fault here.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from decimal import Decimal
from fractions import Fraction

from service.domain.breakdown import Breakdown, Output, Role
from service.domain.errors import (
    Fault,
    OutputNotWeighed,
    OutputsOutweighInput,
    OutputTwice,
    UnknownReference,
    UnknownUnit,
    WrongValue,
    YieldsAboveOne,
)
from service.domain.loops import loop_fault
from service.domain.quantity import Dimension, unit_named
from service.domain.rounding import text
from service.domain.yield_test import YieldTest

ZERO = Decimal(0)


def check_breakdown(breakdown: Breakdown) -> list[Fault]:
    """Every reason why the breakdown cannot be right in itself; empty when it can.

    One that carries nothing (by-products and losses alone) can: nothing is asked of a cost that no cut carries.
    """
    return [*_input_faults(breakdown), *_output_faults(breakdown.outputs), *_yield_faults(breakdown),
            *_choice_faults(breakdown)]


def check_test(breakdown: Breakdown, test: YieldTest, tolerance_percent: Decimal) -> list[Fault]:
    """Every reason why the weights cannot be those of this breakdown; empty when they can.

    `tolerance_percent` is the scale's: by so much the outputs may outweigh the input.
    """
    listed = [output.cut for output in breakdown.outputs]
    named = [output.cut for output in test.outputs]
    faults = [*_unit_faults(test), *_twice(named), *_not_listed(breakdown.code, named, listed)]
    missing = [cut for cut in listed if cut not in named]
    if missing:
        faults.append(OutputNotWeighed(
            f"The test leaves out {', '.join(missing)}: weigh every output, \"0\" where there was none.",
            "#/outputs", cuts=missing))
    return [*faults, *_weight_faults(test), *_outweighing(test, tolerance_percent)]


def _input_faults(breakdown: Breakdown) -> Iterator[Fault]:
    source = breakdown.input
    if (source.ingredient is None) == (source.cut is None):
        yield WrongValue("A breakdown has one input: name an ingredient or a cut, not both.", "#/input")
    if source.cut is not None and breakdown.output(source.cut) is not None:
        own = ("breakdown", breakdown.code)
        yield loop_fault((own, ("cut", source.cut), own), "#/input/cut")


def _output_faults(outputs: tuple[Output, ...]) -> Iterator[Fault]:
    if not outputs:
        yield WrongValue("A breakdown has outputs: name at least one.", "#/outputs")
    yield from _twice([output.cut for output in outputs])
    for position, output in enumerate(outputs):
        if output.role is Role.BY_PRODUCT and output.credit_value is None:
            yield WrongValue(
                f"{output.cut} is a by-product without a credit_value: say what it is used or sold at, even if \"0\".",
                f"#/outputs/{position}/credit_value", cut=output.cut)
        if output.portion_weight_kg is not None and output.portion_weight_kg <= 0:
            yield WrongValue(
                f"A portion of {output.cut} weighs something: give a weight above zero, or leave it out.",
                f"#/outputs/{position}/portion_weight_kg", cut=output.cut)
        if not 0 <= output.expected_yield <= 1:
            yield WrongValue(
                f"{output.cut} has an expected_yield of {text(output.expected_yield)}: a yield is a fraction of the "
                "input's weight, from 0 to 1.", f"#/outputs/{position}/expected_yield", cut=output.cut)


def _yield_faults(breakdown: Breakdown) -> Iterator[Fault]:
    total = sum((output.expected_yield for output in breakdown.outputs), ZERO)
    if total > 1:
        yield YieldsAboveOne(
            f"The declared yields come to {text(total)}: more than goes in. At most 1 in sum.",
            "#/outputs", sum=text(total))


def _choice_faults(breakdown: Breakdown) -> Iterator[Fault]:
    last, since = breakdown.yields_from_last_tests, breakdown.yields_from_tests_since
    if last is not None and last < 1:
        yield WrongValue(f"The yields cannot rest on the last {last} tests: give at least 1, or null for all.",
                         "#/yields_from_last_tests")
    if last is not None and since is not None:
        yield WrongValue(
            f"The yields rest on the last {last} tests or on those since {since}, not on both: give null for one of "
            "yields_from_last_tests and yields_from_tests_since.", "#/yields_from_tests_since")


def _twice(cuts: list[str]) -> Iterator[Fault]:
    seen: Counter[str] = Counter()
    for position, cut in enumerate(cuts):
        if seen[cut]:
            yield OutputTwice(f"{cut} is listed twice: keep one.", f"#/outputs/{position}/cut", cut=cut)
        seen[cut] += 1


def _not_listed(breakdown: str, named: Iterable[str], listed: list[str]) -> Iterator[Fault]:
    for position, cut in enumerate(named):
        if cut not in listed:
            yield UnknownReference(
                f"{breakdown} has no output {cut}: its outputs are {', '.join(listed)}.",
                f"#/outputs/{position}/cut", cut=cut)


def _unit_faults(test: YieldTest) -> Iterator[Fault]:
    try:
        unit = unit_named(test.unit)
    except UnknownUnit as fault:
        yield fault.at("#/unit")
        return
    if unit.dimension is not Dimension.MASS:
        yield WrongValue(f"A yield test is weighed: {test.unit} is no unit of mass.", "#/unit", unit=test.unit)


def _weight_faults(test: YieldTest) -> Iterator[Fault]:
    if test.input_weight <= 0:
        yield WrongValue("The input weighs something: give a weight above zero.", "#/input_weight")
    if test.opened_weight is not None and not 0 < test.opened_weight <= test.input_weight:
        yield WrongValue(
            f"The opened weight, {text(test.opened_weight)} {test.unit}, is what is left of the input weight, "
            f"{text(test.input_weight)} {test.unit}, after draining: above zero, and no more than that.",
            "#/opened_weight", opened_weight=text(test.opened_weight), input_weight=text(test.input_weight))
    for position, output in enumerate(test.outputs):
        if output.weight < 0:
            yield WrongValue(
                f"{output.cut} cannot weigh less than nothing.", f"#/outputs/{position}/weight", cut=output.cut)


def _outweighing(test: YieldTest, tolerance_percent: Decimal) -> Iterator[Fault]:
    """Against what lay on the block: the opened weight where there is one, else the input's."""
    if test.input_weight <= 0:
        return
    opened = test.opened_weight is not None and 0 < test.opened_weight <= test.input_weight
    name, limit = ("opened_weight", test.opened_weight) if opened else ("input_weight", test.input_weight)
    weights = sum((output.weight for output in test.outputs), ZERO)
    if limit is not None and Fraction(weights) > Fraction(limit) * (1 + Fraction(tolerance_percent) / 100):
        figures = {"outputs_weight": text(weights), name: text(limit)}
        yield OutputsOutweighInput(
            f"The outputs weigh {text(weights)} {test.unit} and the {name.replace('_', ' ')} is {text(limit)} "
            f"{test.unit}: more than the scale's tolerance of {text(tolerance_percent)} % allows. Weigh again.",
            "#/outputs", **figures, unit=test.unit, tolerance_percent=text(tolerance_percent))
