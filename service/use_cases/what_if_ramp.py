"""A ramp of a what-if: prices in steps from one percentage to another, and each dish that moves as a curve."""

from collections.abc import Sequence
from decimal import Decimal

from service.domain.errors import Fault, LimitPassed, Refused, WrongValue
from service.domain.menu_totals import MenuTotals
from service.domain.published_menu import PublishedDishes
from service.domain.scenario import kitchen_under
from service.use_cases.covers_asked import Covers
from service.use_cases.documents import Document, plain
from service.use_cases.menu_lines import lines_of, menu_totals
from service.use_cases.ramp_figures import ramp_columns
from service.use_cases.snapshot import Snapshot
from service.use_cases.what_if_asked import Ramp
from service.use_cases.what_if_prices import faults_of_move, price_move

MOST_STEPS = 61
MOST_POINTS = 200_000
"""Of all curves of an answer together."""
MOST_PRICES = 200_000
"""So many prices of ingredients all steps together may move."""


def ramp_document(snapshot: Snapshot, ramp: Ramp, covers: Covers | None) -> Document:
    """The menu at each step, and the curves of the dishes that move; on top of what the snapshot supposes already.

    Shape:   every list has one entry for each percentage, in their order.
    Raises:  Refused for filters that mean nothing; LimitPassed for more steps or curves than are told at once.
    """
    percents = steps_of(ramp)
    faults: list[Fault] = list(faults_of_move(ramp.at(percents[-1]), snapshot.recorded, snapshot.kitchen.day, "#/ramp"))
    if faults:
        raise Refused(faults)
    _hold_to_work(len(ramp.ingredients) or len(snapshot.kitchen.prices), len(percents))
    day = snapshot.kitchen.day
    here = snapshot.recorded, snapshot.kitchen
    kitchens = (kitchen_under(snapshot.recorded, [price_move(ramp.at(percent), day)]).on(day, here)
                for percent in percents)
    columns = ramp_columns(snapshot, kitchens)
    moving = _moving(columns.steps)
    totals, were = menu_totals(snapshot, covers), MenuTotals.of(lines_of(columns.start, covers, columns.rows))
    if len(moving) * len(percents) > MOST_POINTS:
        raise LimitPassed(
            f"{len(moving)} dishes at {len(percents)} steps are more than an answer tells: take a larger step_percent, "
            "or name fewer ingredients.", "#/ramp/step_percent", limit="ramp_points", at_most=MOST_POINTS)
    return {
        "percents": [plain(percent) for percent in percents],
        "menu": [totals.with_others(were, MenuTotals.of(lines_of(step, covers))).as_published()
                 for step in columns.steps],
        "dishes": [_curve(columns.steps, row, snapshot) for row in moving]}


def steps_of(ramp: Ramp) -> Sequence[Decimal]:
    """The percentages of a ramp.

    Raises:  WrongValue for one that goes backwards; LimitPassed for too many steps.
    """
    if ramp.to_percent < ramp.from_percent:
        raise WrongValue(f"Give a percentage from {plain(ramp.from_percent)} on.", "#/ramp/to_percent")
    if (ramp.to_percent - ramp.from_percent) / ramp.step_percent >= MOST_STEPS:
        raise LimitPassed(f"These are more than {MOST_STEPS} steps: take larger ones.", "#/ramp/step_percent",
                          limit="ramp_steps", at_most=MOST_STEPS)
    return ramp.percents


def _hold_to_work(ingredients: int, steps: int) -> None:
    """Refuse before any work what would keep a worker busy for minutes.

    Raises:  LimitPassed.
    """
    if ingredients * steps > MOST_PRICES:
        raise LimitPassed(f"{ingredients} ingredients at {steps} steps are more prices than an answer is worth: take a "
                          "larger step_percent, or name ingredients.", "#/ramp/step_percent", limit="ramp_prices",
                          at_most=MOST_PRICES)


def _moving(columns: Sequence[PublishedDishes]) -> list[int]:
    """The rows of the dishes whose food cost is not the same at every step, in the order of the codes."""
    costs = [step.food_cost.texts() for step in columns]
    codes = columns[0].codes
    return sorted((row for row in range(len(codes)) if any(step[row] != costs[0][row] for step in costs)),
                  key=codes.__getitem__)


def _curve(columns: Sequence[PublishedDishes], row: int, snapshot: Snapshot) -> Document:
    code = columns[0].codes[row]
    steps = [step.row(row) for step in columns]
    return {
        "dish": code, "name": snapshot.kitchen.dishes[code].name,
        "target_food_cost_percent": steps[0]["target_food_cost_percent"],
        **{name: [step[name] for step in steps] for name in ("food_cost", "food_cost_percent", "gross_profit",
                                                             "within_target")}}
