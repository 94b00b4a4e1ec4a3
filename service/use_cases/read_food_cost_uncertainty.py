"""Read how far food costs could be off by their yields, dish by dish, and how many more tests would make them sure."""

from collections.abc import Sequence
from fractions import Fraction

from service.domain.food_cost_uncertainty import Contribution, FoodCostUncertainty, UncertaintySheet
from service.domain.more_tests import variance_of
from service.domain.publication import cost_in_words, percent_in_words
from service.use_cases.cost_rows import gap_documents
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot


def uncertain_dishes(snapshot: Snapshot, dishes: Sequence[str] | None, breakdown: str | None) -> list[str]:
    """The codes of the dishes asked for, in their order: all, those named that are on the menu, those that rest on the
    yields of a breakdown."""
    resting = _sheet(snapshot).resting_on(breakdown)
    return list(resting) if dishes is None else [code for code in resting if code in frozenset(dishes)]


def uncertainty_rows(snapshot: Snapshot, dishes: Sequence[str], within: Fraction) -> list[Document]:
    """A row for each of the dishes; `within` is the part of the food cost that half the interval is wanted within."""
    sheet = _sheet(snapshot)
    return [_row(snapshot, sheet.of(code), within) for code in dishes]


def _sheet(snapshot: Snapshot) -> UncertaintySheet:
    return snapshot.kept("uncertainty sheet", lambda: UncertaintySheet(snapshot.kitchen, snapshot.costing))


def _row(snapshot: Snapshot, found: FoodCostUncertainty, within: Fraction) -> Document:
    dish, needed, main = snapshot.kitchen.dishes[found.dish], found.tests_needed(within), found.main
    cost, interval, half = found.food_cost, found.interval, found.half_width
    return {
        "dish": dish.code, "name": dish.name, "section": dish.section, "status": found.status,
        "food_cost": cost_in_words(cost),
        "standard_error": cost_in_words(found.standard_error),
        "standard_error_percent": _percent_of(found.standard_error, cost),
        "known_standard_error": cost_in_words(found.known_standard_error),
        "degrees_of_freedom": found.degrees_of_freedom,
        "half_width": cost_in_words(half), "half_width_percent": _percent_of(half, cost),
        "interval_95": None if interval is None else [cost_in_words(bound) for bound in interval],
        "main_breakdown": None if main is None else main.doubt.breakdown.code,
        "more_tests": needed.more, "why_not": needed.why,
        "counts_last_tests": None if main is None else main.doubt.breakdown.yields_from_last_tests,
        "breakdowns": _contributions(found),
        "gaps": gap_documents(snapshot.costing.material_gaps(("dish", dish.code))),
    }


def _contributions(found: FoodCostUncertainty) -> list[Document]:
    """What each breakdown adds; shares of the variance where all of it is known."""
    whole = variance_of(part for part in found.parts if part is not None)
    return [_contribution(each, None if part is None or found.status != "complete" or not whole else
                          part.variance / whole)
            for each, part in zip(found.contributions, found.parts, strict=True)]


def _contribution(each: Contribution, share: Fraction | None) -> Document:
    doubt = each.doubt
    return {
        "breakdown": doubt.breakdown.code, "name": doubt.breakdown.name, "yield_basis": doubt.basis,
        "tests": doubt.tests, "known": doubt.variance is not None,
        "standard_error": cost_in_words(each.standard_error),
        "share_of_variance_percent": percent_in_words(None if share is None else share * 100)}


def _percent_of(part: Fraction | None, whole: Fraction | None) -> str | None:
    return None if part is None or not whole else percent_in_words(part / whole * 100)
