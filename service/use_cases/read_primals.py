"""Read the primals: what is bought whole and broken down, each with its price and its breakdowns.

Of a breakdown: what part of its input is usable (main and trim together), how sure that is, and what a kg of its input
makes after labour, against what it costs.
"""

from fractions import Fraction

from service.domain.break_or_buy import BreakOrBuy
from service.domain.breakdown import Breakdown
from service.domain.breakdown_pools import input_cost
from service.domain.breakdown_value import value_of
from service.domain.chains import chains
from service.domain.cut_figures import CutSheet
from service.domain.ingredient import Ingredient
from service.domain.network import NIL, ONE
from service.domain.publication import cost_in_words, percent_in_words
from service.domain.yield_statistics import statistics_of_together
from service.domain.yields import Yields
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot


def read_primals(snapshot: Snapshot) -> Document:
    """Every primal of the snapshot's day by name; `loose` are breakdowns whose input nothing makes."""
    found, sheet = chains(snapshot.kitchen), CutSheet(snapshot.kitchen, snapshot.costing)
    ingredients = snapshot.kitchen.ingredients
    primals = sorted((ingredients[code] for code in found if code in ingredients), key=lambda one: one.name.casefold())
    gone = [breakdown for code, of in sorted(found.items()) if code not in ingredients for breakdown in of]
    return {
        "currency": snapshot.kitchen.settings.currency,
        "primals": [_primal(each, found[each.code], snapshot, sheet) for each in primals],
        "loose": [{"code": each.code, "name": each.name, "of": each.input.ingredient or each.input.cut}
                  for each in gone]}


def _primal(ingredient: Ingredient, breakdowns: list[Breakdown], snapshot: Snapshot, sheet: CutSheet) -> Document:
    return {
        "ingredient": ingredient.code, "name": ingredient.name, "base_unit": ingredient.base_unit,
        "unit_price": cost_in_words(snapshot.costing.material(("ingredient", ingredient.code))),
        "breakdowns": [_breakdown(each, snapshot, sheet) for each in breakdowns]}


def _breakdown(breakdown: Breakdown, snapshot: Snapshot, sheet: CutSheet) -> Document:
    kitchen, yields = snapshot.kitchen, sheet.yields(breakdown)
    paid = input_cost(breakdown, kitchen, snapshot.costing)
    value = value_of(breakdown, yields, kitchen.settings, ONE)
    verdict = BreakOrBuy(value, paid).with_labour
    return {
        "code": breakdown.code, "name": breakdown.name, "in_use": breakdown.in_use,
        "of": None if breakdown.input.cut is None else _name(breakdown.input.cut, sheet),
        **usable(breakdown, yields), "input_cost": cost_in_words(paid.cost),
        "value": cost_in_words(value.after_labour), "saved": cost_in_words(verdict.saved),
        "cheaper": None if verdict.cheaper is None else verdict.cheaper.value}


def usable(breakdown: Breakdown, yields: Yields) -> Document:
    """What part of the input carries the cost, in percent; its tests, and half its 95 % interval in points."""
    cuts = [output.cut for output in breakdown.outputs if output.role.carries_joint_cost]
    tested = yields.counting if yields.basis == "tests" else ()
    statistics = statistics_of_together(cuts, tested)
    interval = None if statistics is None else statistics.interval
    half = None if interval is None else (interval[1] - interval[0]) / 2
    return {"usable": percent_in_words(sum((yields.fractions[cut] for cut in cuts), NIL) * 100),
            "give_or_take": percent_in_words(_hundredfold(half)), "tests": len(tested)}


def _hundredfold(share: Fraction | None) -> Fraction | None:
    return None if share is None else share * 100


def _name(cut: str, sheet: CutSheet) -> str:
    """As the breakdown in use that makes it calls it; its code where nothing does."""
    return sheet.figures(cut).output.name if cut in sheet.cuts else cut
