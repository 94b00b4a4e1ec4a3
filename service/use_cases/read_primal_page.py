"""Read all that the page of a primal shows: the cutting sheet of one of its breakdowns, where its money goes, what its
cuts cost by three ways of sharing, how its yields were tested, and which dishes its price moves.
"""

from decimal import Decimal
from fractions import Fraction

from service.domain.breakdown import Breakdown
from service.domain.chains import chains
from service.domain.errors import NotFound
from service.domain.ingredient import Ingredient
from service.use_cases.documents import Document
from service.use_cases.money_flow_documents import money_flow_document
from service.use_cases.read_breakdown_comparison import read_breakdown_comparison
from service.use_cases.read_cutting_sheet import read_cutting_sheet
from service.use_cases.read_impact import read_impact
from service.use_cases.read_lean_loss import read_lean_loss
from service.use_cases.snapshot import Snapshot
from service.use_cases.ways_of_sharing import ways_of_sharing
from service.use_cases.yield_charts import yield_charts

A_HUNDRED_KG, ONE_POINT = Decimal(100), Decimal(1)
MOST_DISHES = 40
A_PAGE, STEP_WIDTH = 55, 60
"""Lines on a printed page, characters in a line of a step; what is longer is set smaller."""


def read_primal_page(snapshot: Snapshot, ingredient: str, breakdown: str | None = None) -> Document:
    """The document of a primal's page; of several breakdowns the first in use, unless one is named.

    Raises:  NotFound where no such ingredient stands that day, it is not broken down, or not by the one named.
    """
    record = snapshot.kitchen.ingredients.get(ingredient)
    if record is None:
        raise NotFound(f"There is no ingredient {ingredient!r} on {snapshot.position.day}.")
    of_it = chains(snapshot.kitchen).get(ingredient, [])
    chosen = _chosen(record, of_it, breakdown, snapshot)
    return {
        "ingredient": {"code": record.code, "name": record.name, "base_unit": record.base_unit},
        "breakdowns": [{"code": each.code, "name": each.name, "in_use": each.in_use} for each in of_it],
        "chosen": chosen.code, "sheet": _sheet(snapshot, chosen), "flow": money_flow_document(snapshot, chosen),
        "ways": ways_of_sharing(snapshot, chosen), "yields": yield_charts(snapshot, chosen),
        "lean": read_lean_loss(snapshot, chosen.code, A_HUNDRED_KG, ONE_POINT),
        "worth": read_breakdown_comparison(snapshot, chosen.code, [])["break_or_buy"],
        "impact": _impact(read_impact(snapshot, ingredient))}


def _chosen(ingredient: Ingredient, of_it: list[Breakdown], code: str | None, snapshot: Snapshot) -> Breakdown:
    if not of_it:
        raise NotFound(f"No breakdown takes {ingredient.name} apart on {snapshot.position.day}: record one with "
                       "PUT /v1/breakdowns/CODE.")
    for each in of_it:
        if code in (None, each.code):
            return each
    raise NotFound(f"No breakdown {code!r} starts from {ingredient.name} on {snapshot.position.day}; there are "
                   f"{', '.join(each.code for each in of_it)}.")


def _sheet(snapshot: Snapshot, breakdown: Breakdown) -> Document:
    """The cutting sheet with percents, and how much there is to be fitted on its page."""
    sheet = read_cutting_sheet(snapshot, breakdown.code)
    for line in sheet["outputs"]:
        line["percent"] = percent_of_share(line["yield"])
    return sheet | {"unaccounted_percent": percent_of_share(sheet["unaccounted"]),
                    "purge_percent": percent_of_share(sheet["purge"]),
                    "long": _lines(sheet) > A_PAGE}


def _lines(sheet: Document) -> Fraction:
    """About how many lines of print it comes to: a row of the table is higher than a line, a step stands apart."""
    steps = sum(1 + len(step) // STEP_WIDTH for step in sheet["steps"])
    return Fraction(13, 10) * (len(sheet["outputs"]) + 5) + steps + Fraction(3, 10) * len(sheet["steps"])


def percent_of_share(share: str | None) -> str | None:
    """A published share as a percentage: the same digits."""
    return None if share is None else f"{Decimal(share).scaleb(2):f}"


def _impact(told: Document) -> Document:
    """The dishes: those outside already, then in the order in which a rise takes them out, then the others."""
    order = {True: 1, False: 0, None: 2}
    dishes = sorted(told["dishes"], key=lambda dish: (
        order[dish["within_target"]], dish["leaves_at"] is None, Decimal(dish["leaves_at"] or 0), dish["dish"]))
    first = next((dish for dish in dishes if dish["leaves_at"] is not None), None)
    return told | {"dishes": dishes[:MOST_DISHES], "more": max(0, len(dishes) - MOST_DISHES), "first": first}
