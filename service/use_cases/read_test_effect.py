"""Read what a yield test did when it was recorded: the yields, cuts' costs and dishes just before it and just after.

Rules that always hold: both sides are of the business day on which it was recorded, at the revision before and at its
own, so that what is told never changes; what became of the test since then is said beside it.
"""

from fractions import Fraction

from service.domain.breakdown import Breakdown
from service.domain.errors import NotFound
from service.domain.publication import percent_in_words, share_in_words
from service.domain.weights_in_line import weights_looked
from service.domain.yield_test import WeighedOutput, YieldTest
from service.domain.yields import Yields, yields_of
from service.use_cases.cost_rows import cut_rows, rows_of_today
from service.use_cases.documents import Document, yield_test_document
from service.use_cases.ports import Ledger
from service.use_cases.position import Position
from service.use_cases.read_test_form import names_of, source_of
from service.use_cases.read_yield_statistics import yield_statistics
from service.use_cases.snapshot import Snapshot
from service.use_cases.snapshots import Snapshots
from service.use_cases.yield_test_faults import weight_in_words

MOST_DISHES = 40
"""Dishes that the page names; the rest are counted."""
_DISH_FIGURES = ("food_cost", "food_cost_percent", "within_target", "status")


def read_test_effect(ledger: Ledger, snapshots: Snapshots, snapshot: Snapshot, breakdown: str, test_id: str
                     ) -> Document:
    """The document of a recorded test's page.

    Raises:  NotFound.
    """
    tests = snapshot.recorded.yield_tests.get(breakdown, ())
    test = next((one for one in tests if one.id == test_id), None)
    if test is None:
        raise NotFound(f"There is no test {test_id!r} of {breakdown!r}.")
    before, after = _around(ledger, snapshots, test)
    plan = after.kitchen.breakdowns[breakdown]
    was, now = (yields_of(plan, side.kitchen.yield_tests.get(breakdown, ()), side.position.day)
                for side in (before, after))
    dishes = _dishes(before, after)
    return {
        "test": yield_test_document(test), "names": names_of(plan, test), "plan": {
            "breakdown": breakdown, "name": plan.name, "ingredient": source_of(plan, after.kitchen)},
        "supplier": _supplier(test, after), "recorded_on": after.position.day.isoformat(),
        "weights": _weights(plan, test, was, now, after), "unaccounted": _unaccounted(test, was, now),
        "basis": now.basis, "basis_before": was.basis, "tests": len(now.counting),
        "counts": any(one.id == test.id for one in now.counting), "yields_from": plan.yields_from.value,
        "cuts": _cuts(plan, before, after), "dishes": dishes[:MOST_DISHES], "dishes_moved": len(dishes),
        "currency": after.kitchen.settings.currency,
        **_reading(breakdown, test, after)}


def _around(ledger: Ledger, snapshots: Snapshots, test: YieldTest) -> tuple[Snapshot, Snapshot]:
    """How everything stood just before the test was recorded, and just after."""
    revision = test.made.revision
    day = ledger.figure_revisions(revision - 1, 1)[0].on_date
    before, after = (snapshots.at(Position(*ledger.figures_at(number), day)) for number in (revision - 1, revision))
    return before, after


def _reading(breakdown: str, test: YieldTest, after: Snapshot) -> Document:
    """What the tests say in sentences, this one too: of it and of all of them, and apart from that of earlier ones."""
    said = yield_statistics(after.recorded, breakdown, after.position.day)["reading"]
    return {"reading": [one["text"] for one in said if one["test"] in (test.id, None)],
            "reading_of_others": [one["text"] for one in said if one["test"] not in (test.id, None)]}


def _supplier(test: YieldTest, after: Snapshot) -> str | None:
    supplier = None if test.supplier is None else after.kitchen.suppliers.get(test.supplier)
    return test.supplier if supplier is None else supplier.name


def _weights(plan: Breakdown, test: YieldTest, was: Yields, now: Yields, after: Snapshot) -> list[Document]:
    """Each output's weight, and its yield before and after; in line or not by what was expected before."""
    looked = None
    if test.cuts == frozenset(output.cut for output in plan.outputs):
        looked = weights_looked(plan, test, was, after.kitchen.settings.scale_tolerance_percent).outputs
    paid = Fraction(test.input_weight)
    return [{
        "cut": weighed.cut, "weight": weight_in_words(Fraction(weighed.weight) / paid, test),
        "percent": percent_in_words(Fraction(weighed.weight) / paid * 100),
        "in_line": looked is None or looked[weighed.cut].in_line,
        "before": share_in_words(was.fractions.get(weighed.cut)),
        "after": share_in_words(now.fractions.get(weighed.cut)),
    } for weighed in _in_order(plan, test)]


def _in_order(plan: Breakdown, test: YieldTest) -> list[WeighedOutput]:
    places = {output.cut: place for place, output in enumerate(plan.outputs)}
    return sorted(test.outputs, key=lambda weighed: places.get(weighed.cut, len(places)))


def _unaccounted(test: YieldTest, was: Yields, now: Yields) -> Document:
    paid = Fraction(test.input_weight)
    share = 1 - sum((Fraction(output.weight) for output in test.outputs), Fraction(0)) / paid
    drained = None if test.opened_weight is None else 1 - Fraction(test.opened_weight) / paid
    return {
        "weight": weight_in_words(share, test), "percent": percent_in_words(share * 100),
        "before": share_in_words(was.unaccounted), "after": share_in_words(now.unaccounted),
        "drained": None if drained is None else {
            "weight": weight_in_words(drained, test), "percent": percent_in_words(drained * 100)}}


def _cuts(plan: Breakdown, before: Snapshot, after: Snapshot) -> list[Document]:
    """The breakdown's own cuts, in its order, that cost something."""
    was = {str(row["cut"]): row for row in cut_rows(before) if row["breakdown"] == plan.code}
    now = {str(row["cut"]): row for row in cut_rows(after) if row["breakdown"] == plan.code}
    return [{"cut": output.cut, "name": output.name, "before": was[output.cut]["cost_per_kg"],
             "after": now[output.cut]["cost_per_kg"]}
            for output in plan.outputs if output.cut in was and output.cut in now]


def _dishes(before: Snapshot, after: Snapshot) -> list[Document]:
    """The dishes that moved: those that left their target first, then those back within it, then the rest by name."""
    was = {str(row["dish"]): row for row in rows_of_today(before)}
    moved = [_dish(was[str(row["dish"])], row) for row in rows_of_today(after)
             if any(was[str(row["dish"])][name] != row[name] for name in _DISH_FIGURES)]
    order = {"left": 0, "back": 1, "": 2}
    return sorted(moved, key=lambda dish: (order[dish["crossed"]], str(dish["name"]).lower(), dish["dish"]))


def _dish(was: Document, now: Document) -> Document:
    crossed = {(True, False): "left", (False, True): "back"}.get((was["within_target"], now["within_target"]), "")
    return {"dish": now["dish"], "name": now["name"], "crossed": crossed,
            "before": {name: was[name] for name in _DISH_FIGURES}, "after": {name: now[name] for name in _DISH_FIGURES}}
