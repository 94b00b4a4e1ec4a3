"""Read what the form of a yield test starts from: the breakdowns, and of the one chosen its outputs in order, each with
what is expected of it.

What is expected goes out in whole millionths of the weight paid for, rounded outwards, so that a page can hold a weight
to it in integers and never warns of one that the service would pass.
"""

from collections.abc import Iterable
from fractions import Fraction
from math import ceil, floor

from service.domain.as_purchased import makers
from service.domain.breakdown import Breakdown
from service.domain.cautions import CAUTIONS
from service.domain.chains import first_of
from service.domain.errors import NotFound
from service.domain.kitchen import KitchenOnDay
from service.domain.rounding import published, text
from service.domain.weights_in_line import Expected, weights_expected
from service.domain.yield_test import YieldTest
from service.domain.yields import yields_of
from service.use_cases.documents import Document, plain
from service.use_cases.snapshot import Snapshot

MILLION = 1_000_000
SUGGESTED = 12
"""Words of earlier tests that a field suggests."""


def read_test_form(snapshot: Snapshot, breakdown: str | None) -> Document:
    """The document of the form; with no breakdown chosen, the list to choose from.

    Raises:  NotFound when no such breakdown stands on the snapshot's day.
    """
    kitchen = snapshot.kitchen
    if breakdown is not None and breakdown not in kitchen.breakdowns:
        raise NotFound(f"There is no breakdown {breakdown!r}.")
    listed = sorted(kitchen.breakdowns.values(), key=lambda plan: (not plan.in_use, plan.name.lower(), plan.code))
    return {
        "breakdowns": [_listed(plan, kitchen) for plan in listed],
        "plan": None if breakdown is None else _plan(kitchen.breakdowns[breakdown], kitchen),
        "cautions": [{"text": caution.text, "source": caution.source} for caution in CAUTIONS]}


def source_of(plan: Breakdown, kitchen: KitchenOnDay) -> str | None:
    """The ingredient at the start of a breakdown's chain; None where the chain breaks off."""
    return first_of(plan, kitchen).input.ingredient


def _listed(plan: Breakdown, kitchen: KitchenOnDay) -> Document:
    tests = [test for test in kitchen.yield_tests.get(plan.code, ()) if test.set_aside is None]
    return {"breakdown": plan.code, "name": plan.name, "of": _input_name(plan, kitchen), "in_use": plan.in_use,
            "tests": len(tests), "last": max((test.tested_on for test in tests), default=None)}


def _input_name(plan: Breakdown, kitchen: KitchenOnDay) -> str:
    if plan.input.ingredient is not None:
        ingredient = kitchen.ingredients.get(plan.input.ingredient)
        return plan.input.ingredient if ingredient is None else ingredient.name
    cut = plan.input.cut or ""
    made = makers(kitchen).get(cut)
    return cut if made is None else made[1].name


def _plan(plan: Breakdown, kitchen: KitchenOnDay) -> Document:
    tests = kitchen.yield_tests.get(plan.code, ())
    tolerance = kitchen.settings.scale_tolerance_percent
    yields = yields_of(plan, tests, kitchen.day)
    expected = weights_expected(plan, yields, tolerance)
    return {
        "breakdown": plan.code, "name": plan.name, "of": _input_name(plan, kitchen), "in_use": plan.in_use,
        "ingredient": source_of(plan, kitchen),
        "yield_basis": yields.basis, "yields_from": plan.yields_from.value, "tests": len(yields.counting),
        "outputs": [{"cut": output.cut, "name": output.name, "role": output.role.value.replace("_", "-"),
                     **_range(expected.outputs[output.cut])} for output in plan.outputs],
        "unaccounted": _range(expected.unaccounted), "much": floor(expected.much * MILLION),
        "tolerance": floor(Fraction(tolerance) / 100 * MILLION), "tolerance_percent": plain(tolerance),
        "suppliers": [{"supplier": code, "name": supplier.name} for code, supplier in sorted(
            kitchen.suppliers.items(), key=lambda told: told[1].name.lower())],
        "unit": tests[-1].unit if tests else "kg",
        "butchers": _said(test.butcher for test in reversed(tests)),
        "grades": _said(test.grade for test in reversed(tests))}


def _range(expected: Expected) -> Document:
    """From and to, in millionths and in percents as they are read."""
    low, high = floor(expected.low * MILLION), ceil(expected.high * MILLION)
    return {"low": low, "high": high, "basis": expected.basis, "usual_percent": _percent(expected.usual),
            "low_percent": _percent(expected.low), "high_percent": _percent(expected.high)}


def _percent(share: Fraction) -> str:
    return text(published(share * 100, 1))


def _said(words: Iterable[str]) -> list[str]:
    """What earlier tests said, the latest first, each once."""
    return list(dict.fromkeys(word for word in words if word))[:SUGGESTED]


def names_of(plan: Breakdown | None, test: YieldTest) -> dict[str, str]:
    """The name of every cut that a test weighed, by code; the code where the breakdown lists it no more."""
    names = {} if plan is None else {output.cut: output.name for output in plan.outputs}
    return {output.cut: names.get(output.cut, output.cut) for output in test.outputs}
