"""What webhooks and alerts tell of a dish that moved: its published figures before and after, and the causes.

Rules that always hold: what is told stays small, however large the menu and however much was recorded at once.
"""

from collections.abc import Sequence

from service.domain.change_causes import Cause
from service.domain.target_crossing import Crossing, crossing
from service.use_cases.documents import Document
from service.use_cases.figure_timeline import DishChange

FIGURES = ("status", "currency", "food_cost", "known_food_cost", "labour_cost", "menu_price", "price_before_tax",
           "food_cost_percent", "gross_profit", "gross_profit_percent", "target_food_cost_percent",
           "target_menu_price", "within_target")
"""The members of a dish's row that are told, and whose change is a change of its cost."""
CAUSE = ("kind", "code", "action", "revision", "entry")
"""The members of a cause."""
MOST_CAUSES = 20


def crossed(change: DishChange, was_outside: bool) -> Crossing | None:
    """What a change does to a dish and its target, by whether it was outside when it was last known."""
    after = change.after
    return crossing(was_outside, after is not None, None if after is None else after["within_target"])


def figures_told(row: Document | None) -> Document | None:
    """The figures of a dish's row; None where it is not on the menu."""
    return None if row is None else {name: row[name] for name in FIGURES}


def cause_document(cause: Cause) -> Document:
    """A cause as it is told: its kind, whose it is, what happened, and the entry of the ledger that recorded it."""
    told: Document = {"kind": cause.kind, "code": cause.code, "action": cause.action,
                      "revision": cause.made.revision, "entry": cause.made.entry}
    return told


def in_order(told: Document, members: Sequence[str]) -> Document:
    """What was told, its members in their order: what was stored comes back in that of the alphabet, and a member that
    was not told yet when it was stored is not known."""
    return {name: told.get(name) for name in members}


def causes_told(causes: Sequence[Cause]) -> Document:
    """The causes, as many as are told, and how many more there are."""
    return {"causes": [cause_document(cause) for cause in causes[:MOST_CAUSES]],
            "more_causes": max(0, len(causes) - MOST_CAUSES)}
