"""Read yield statistics: what the tests of a breakdown say, how sure they are, and which of them stand out.

Of every test it is said whether it counts on the day and why not. Statistics may be of a part of the tests that count
(a butcher's, a supplier's goods', a grade's), which they then say; yields in force are always those of all.
"""

from collections.abc import Sequence
from datetime import date
from fractions import Fraction

from service.domain.breakdown import Breakdown
from service.domain.errors import NotFound
from service.domain.kitchen import Kitchen
from service.domain.publication import share_in_words
from service.domain.yield_part import BY, Group, Part, groups
from service.domain.yield_reading import readings
from service.domain.yield_statistics import YieldStatistics, draining, statistics_of, statistics_of_unaccounted
from service.domain.yield_test import YieldTest
from service.domain.yields import Yields, yields_of
from service.use_cases.documents import Document
from service.use_cases.yield_statistics_documents import (
    counting_test,
    named_test,
    reading_documents,
    statistics_document,
    sureness_document,
)

WHOLE = Part()


def yield_statistics(kitchen: Kitchen, breakdown: str, day: date, part: Part = WHOLE, by: str | None = None
                     ) -> Document:
    """The statistics of every output of a breakdown over the tests that count on `day`, or a part of them.

    Raises:  NotFound when no such breakdown stands that day.
    """
    plan = kitchen.on(day).breakdowns.get(breakdown)
    if plan is None:
        raise NotFound(f"There is no breakdown {breakdown!r} on {day}.")
    tests = kitchen.yield_tests.get(breakdown, ())
    yields = yields_of(plan, tests, day)
    looked_at = part.of(yields.counting)
    of_outputs = {output.cut: statistics_of(output.cut, looked_at) for output in plan.outputs}
    unaccounted = statistics_of_unaccounted(looked_at)
    known = [one for one in (*of_outputs.values(), unaccounted) if one is not None]
    return {
        "breakdown": plan.code, "name": plan.name, "as_of": day.isoformat(), "revision": kitchen.revision,
        **_choice(plan), "yield_basis": yields.basis, "unaccounted": share_in_words(yields.unaccounted),
        "part": None if part.is_whole else _part(part, looked_at, yields),
        "draining": _draining(looked_at),
        "reading": reading_documents(readings(plan, looked_at, known)),
        **_tests(plan, tests, yields, day),
        "outputs": _outputs(plan, yields, of_outputs),
        "unaccounted_statistics": statistics_document(unaccounted),
        "by": by, "groups": None if by is None else [_group(plan, group) for group in groups(looked_at, by)],
    }


def _choice(plan: Breakdown) -> Document:
    """Which tests the breakdown rests on."""
    since = plan.yields_from_tests_since
    return {"yields_from": plan.yields_from.value, "yields_from_last_tests": plan.yields_from_last_tests,
            "yields_from_tests_since": None if since is None else since.isoformat()}


def _part(part: Part, looked_at: Sequence[YieldTest], yields: Yields) -> Document:
    """Of which tests the figures are, when not of all that count."""
    return {what: getattr(part, what) for what in BY} | {"tests": len(looked_at), "of_tests": len(yields.counting)}


def _draining(tests: Sequence[YieldTest]) -> Document | None:
    drained = draining(tests)
    return None if drained is None else {
        "tests": drained.tests, "purge": share_in_words(drained.purge),
        "cutting_loss": share_in_words(drained.cutting_loss)}


def _tests(plan: Breakdown, tests: Sequence[YieldTest], yields: Yields, day: date) -> Document:
    """Every test, by whether it counts, and why not."""
    return {
        "counting": [counting_test(test) for test in yields.counting],
        "not_chosen": [named_test(test) | {"reason": _not_chosen(plan)} for test in yields.not_chosen],
        "set_aside": [named_test(test) | {"reason": test.set_aside.reason} for test in tests
                      if test.set_aside is not None],
        "set_aside_by_itself": [named_test(test) | _difference(test, plan) for test in yields.set_aside_by_itself],
        "not_yet_made": [named_test(test) for test in tests if test.set_aside is None and test.tested_on > day],
    }


def _not_chosen(plan: Breakdown) -> str:
    """Why a test that stands does not count."""
    last = plan.yields_from_last_tests
    if last is None:
        return f"The breakdown rests on tests made since {plan.yields_from_tests_since}."
    return "The breakdown rests on the last test." if last == 1 else f"The breakdown rests on the last {last} tests."


def _outputs(plan: Breakdown, yields: Yields, statistics: dict[str, YieldStatistics | None]) -> list[Document]:
    return [{
        "cut": output.cut, "name": output.name, "role": output.role.value,
        "yield": share_in_words(yields.fractions[output.cut]),
        "expected_yield": share_in_words(Fraction(output.expected_yield)),
        **statistics_document(statistics[output.cut]),
    } for output in plan.outputs]


def _group(plan: Breakdown, group: Group) -> Document:
    """The same figures of one butcher, supplier or grade, beside those of the others."""
    return {
        "value": group.value, "tests": len(group.tests),
        "outputs": [{"cut": output.cut, **sureness_document(statistics_of(output.cut, group.tests))}
                    for output in plan.outputs],
        "unaccounted": sureness_document(statistics_of_unaccounted(group.tests)),
    }


def _difference(test: YieldTest, plan: Breakdown) -> Document:
    """Why a test does not count by itself: it was weighed against another list of outputs."""
    listed = {output.cut for output in plan.outputs}
    return {"not_weighed": sorted(listed - test.cuts), "not_listed": sorted(test.cuts - listed)}
