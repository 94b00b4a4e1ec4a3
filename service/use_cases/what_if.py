"""What if: every moved figure before and after changes that nobody has recorded, and what would mend the dishes that
are outside their target then. Nothing is stored.

Rules that always hold: the figures are those of a kitchen in which the changes were recorded in one revision that day,
by the same functions, so that recording them gives the same digits; what could not be recorded is not supposed.
"""

from collections.abc import Sequence

from service.domain.errors import Refused, UnknownReference
from service.domain.publication import cost_in_words
from service.use_cases.covers_asked import Covers
from service.use_cases.documents import Document
from service.use_cases.figures_under import MovedDish, moved_between, snapshot_under
from service.use_cases.mend_documents import mending_of, mends_document
from service.use_cases.menu_lines import menu_totals, totals_after
from service.use_cases.rows_moved import moved_cuts, moved_recipes
from service.use_cases.snapshot import Snapshot
from service.use_cases.what_if_asked import Ramp, Supposition
from service.use_cases.what_if_changes import supposed_changes
from service.use_cases.what_if_findings import what_moves_nothing
from service.use_cases.what_if_ramp import ramp_document

SHOWN = ("status", "gaps", "food_cost", "known_food_cost", "labour_cost", "menu_price", "price_before_tax",
         "food_cost_percent", "gross_profit", "gross_profit_percent", "target_food_cost_percent", "target_menu_price",
         "within_target", "allergens", "allergens_complete", "allergens_not_declared")
"""The members of a dish's row that a what-if shows of it before and after."""
LISTS = ("dishes", "cuts", "recipes")


def what_if(before: Snapshot, asked: Supposition, covers: Covers | None = None, ramp: Ramp | None = None,
            mends_for: Sequence[str] | None = None, lists: Sequence[str] = LISTS) -> Document:
    """What the supposition would do on the snapshot's day; `covers` weigh the menu (None: one portion of each dish),
    `mends_for` are the dishes whose mends are told (None: of every dish that would be outside its target), `lists`
    what is told of one by one; the others are None.

    Raises:  Refused with every fault of what is supposed, or of the dishes named.
    """
    _hold_to_menu(before, mends_for or ())
    changes = supposed_changes(before.recorded, before.kitchen, asked)
    after = snapshot_under(before, changes) if changes else before
    moved = moved_between(before, after)
    totals = menu_totals(before, covers)
    return {
        "as_of": before.position.day.isoformat(), "revision": before.position.revision,
        "currency": before.kitchen.settings.currency, "weights": "equal" if covers is None else covers.source,
        "not_on_menu": [] if covers is None else [
            {"dish": code, "quantity": cost_in_words(sold)} for code, sold in covers.by_dish.items()
            if code not in before.kitchen.dishes],
        "without_dish": [] if covers is None else [
            {"pos_code": code, "quantity": cost_in_words(sold)} for code, sold in covers.without_dish.items()],
        "menu": {"before": totals.as_published(), "after": totals_after(before, after, covers, totals).as_published()},
        "leaves_target": [dish.code for dish in moved if _turns(dish, False)],
        "re_enters_target": [dish.code for dish in moved if _turns(dish, True)],
        "findings": what_moves_nothing(after, before.position.revision, changes),
        "dishes": [_dish(dish, after, mends_for is None or dish.code in mends_for) for dish in moved]
        if "dishes" in lists else None,
        "cuts": moved_cuts(before, after) if "cuts" in lists else None,
        "recipes": moved_recipes(before, after) if "recipes" in lists else None,
        "ramp": None if ramp is None else ramp_document(after, ramp, covers)}


def _hold_to_menu(snapshot: Snapshot, dishes: Sequence[str]) -> None:
    """Hold the dishes that are named to those on the menu.

    Raises:  Refused with each that is not.
    """
    faults = [UnknownReference(f"There is no dish {code!r} on {snapshot.position.day}; correct its code, or leave it "
                               "out.", f"#/mends_for/{place}")
              for place, code in enumerate(dishes) if code not in snapshot.kitchen.dishes]
    if faults:
        raise Refused(faults)


def _dish(dish: MovedDish, after: Snapshot, with_mends: bool) -> Document:
    row = dish.after or dish.before or {}
    outside = dish.after is not None and dish.after["within_target"] is False
    mends = mending_of(after).of(after.kitchen.dishes[dish.code]) if outside and with_mends else None
    return {
        "dish": dish.code, "name": row["name"], "section": row["section"],
        "before": _shown(dish.before), "after": _shown(dish.after),
        "mends": None if mends is None else mends_document(mends, after.kitchen.settings, after.kitchen.ingredients)}


def _shown(row: Document | None) -> Document | None:
    return None if row is None else {name: row[name] for name in SHOWN}


def _turns(dish: MovedDish, within: bool) -> bool:
    """Whether the dish leaves its target (False), or comes back within it (True)."""
    before, after = dish.before or {}, dish.after or {}
    return before.get("within_target") is (not within) and after.get("within_target") is within
