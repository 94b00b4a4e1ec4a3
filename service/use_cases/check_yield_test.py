"""Check a yield test before it is recorded: each weight beside what is expected, in the test's own unit.

Nothing is stored. What recording would refuse is refused here alike, but for the confirmation that much is missing:
that is said, so that a page can ask for it.
"""

from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from service.domain.breakdown import Breakdown
from service.domain.errors import Refused
from service.domain.kitchen import Kitchen
from service.domain.publication import cost_in_words, percent_in_words, share_in_words
from service.domain.weights_in_line import Looked, WeightsLooked
from service.domain.yield_test import YieldTest
from service.use_cases.documents import Document, plain
from service.use_cases.yield_test_faults import (
    confirmation_fault,
    looked_at,
    weighed_against,
    weight_in_words,
    yield_test_faults,
)

LEAN = ("Loss up while trim is down is the sign that lean goes into the bin: look at what was cut away before it is "
        "thrown out.")


def check_yield_test(kitchen: Kitchen, test: YieldTest, today: date) -> Document:
    """How the test's weights lie beside those of the tests that count, or the declared yields.

    Raises:  NotFound for the breakdown, Refused with every fault.
    """
    breakdown = weighed_against(test, kitchen, today)
    faults = yield_test_faults(test, breakdown, kitchen, today)
    if faults:
        raise Refused(faults)
    looked = looked_at(test, breakdown, kitchen, today)
    warnings = list(_warnings(breakdown, test, looked))
    return {
        "breakdown": breakdown.code, "as_of": today.isoformat(), "revision": kitchen.revision,
        "tested_on": test.tested_on.isoformat(), "unit": test.unit, "input_weight": plain(test.input_weight),
        "in_line": not warnings, "confirmation_needed": looked.much_is_missing,
        "confirm_above_percent": percent_in_words(looked.much * 100),
        "outputs": [{"cut": output.cut, "name": output.name, "role": output.role.value}
                    | _looked(test, looked.outputs[output.cut]) for output in breakdown.outputs],
        "unaccounted": _looked(test, looked.unaccounted),
        "drained": None if test.opened_weight is None else _weight(
            test, Fraction(test.input_weight - test.opened_weight) / Fraction(test.input_weight)),
        "warnings": warnings,
    }


def _looked(test: YieldTest, looked: Looked) -> Document:
    expected = looked.expected
    return _weight(test, looked.share) | {
        "yield": share_in_words(looked.share), "in_line": looked.in_line, "basis": expected.basis,
        "usual_yield": share_in_words(expected.usual),
        "expected_yield": [share_in_words(expected.low), share_in_words(expected.high)],
        "expected_weight": [_in_unit(test, expected.low), _in_unit(test, expected.high)]}


def _weight(test: YieldTest, share: Fraction) -> Document:
    return {"weight": _in_unit(test, share), "percent": percent_in_words(share * 100)}


def _in_unit(test: YieldTest, share: Fraction) -> str | None:
    return cost_in_words(share * Fraction(test.input_weight))


def _warnings(breakdown: Breakdown, test: YieldTest, looked: WeightsLooked) -> Iterator[Document]:
    if looked.lean_in_the_bin:
        yield _warning("lean_into_the_bin", "#/outputs", LEAN)
    places = {output.cut: place for place, output in enumerate(test.outputs)}
    for output in breakdown.outputs:
        one = looked.outputs[output.cut]
        if not one.in_line:
            yield _warning("out_of_line", f"#/outputs/{places[output.cut]}/weight",
                           f"{output.name}: {_beside(test, one)}", output.cut)
    if not looked.unaccounted.in_line:
        yield _warning("unaccounted", "#/outputs", f"What is unaccounted for: {_beside(test, looked.unaccounted)}")
    for fault in confirmation_fault(test, looked):
        yield _warning("confirmation_needed", "#/unaccounted_confirmed", fault.detail)


def _beside(test: YieldTest, looked: Looked) -> str:
    expected, percent = looked.expected, percent_in_words(looked.share * 100)
    above = looked.share > expected.high
    weight, bound = (weight_in_words(share, test) for share in (looked.share, expected.high if above else expected.low))
    more, most = ("more", "most") if above else ("less", "least")
    return f"{weight} ({percent} %) is {more} than is expected, at {most} {bound}."


def _warning(code: str, pointer: str, text: str, cut: str | None = None) -> Document:
    return {"code": code, "cut": cut, "pointer": pointer, "text": text}
