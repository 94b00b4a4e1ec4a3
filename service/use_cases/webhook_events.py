"""What a step of the timeline is told as: prices that moved, dishes whose figures moved, and targets that were crossed.

Rules that always hold: the items of a step are a function of the step, in one order, so that telling may stop after
any of them and go on there; when a target is crossed is said by `domain/target_crossing.py`, for alerts too. A dish
that leaves the menu outside its target is told as a change of its cost, not as one that is back.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.domain.change_causes import Cause
from service.domain.price_proposal import PriceProposal
from service.domain.price_turns import Decided
from service.domain.publication import cost_in_words
from service.domain.target_crossing import Crossing
from service.domain.webhook import Event
from service.use_cases.documents import Document, plain
from service.use_cases.figure_timeline import DishChange, Step
from service.use_cases.told_changes import FIGURES, causes_told, crossed, figures_told

_EVENTS = {Crossing.OUTSIDE: Event.DISH_OUTSIDE_TARGET, Crossing.BACK_WITHIN: Event.DISH_BACK_WITHIN_TARGET}


@dataclass(frozen=True, slots=True)
class Happening:
    """Something to be told: `data` to everybody, `figures` beside it to those who asked for them."""

    event: Event
    at: datetime
    data: Document
    figures: Document


@dataclass(frozen=True, slots=True)
class Item:
    """A part of a step that is told at once: what happened; which dish is outside its target since, or no more."""

    happenings: tuple[Happening, ...]
    left_target: str | None = None
    came_back: str | None = None


def items_of(step: Step, at: datetime, outside: frozenset[str], done: int = 0) -> Iterator[Item]:
    """The items of a step that happened at a moment, without the first so many that are done already.

    `outside` are the dishes that were outside their targets before it.
    """
    for price in step.prices[done:]:
        yield Item((_told(step, at, Event.PRICE_CHANGED, "ingredient", price.ingredient, price.causes,
                          _decided_figures(price.before), _decided_figures(price.after)),))
    for change in step.changes[max(0, done - len(step.prices)):]:
        yield _dish_item(step, at, change, change.dish in outside)


def proposal_happening(proposal: PriceProposal) -> Happening:
    """A proposal that waits for somebody to look at it. It shows no figure, with or without the wish for them."""
    data = {"price_proposal": proposal.id, "supplier": proposal.supplier, "rows": proposal.rows,
            "revision": proposal.base_revision, "as_of": proposal.made_at.date().isoformat()}
    return Happening(Event.PRICE_PROPOSAL_WAITING, proposal.made_at, data, {})


def _dish_item(step: Step, at: datetime, change: DishChange, outside: bool) -> Item:
    turn = crossed(change, outside)
    changed = _changed(change)
    events = [Event.DISH_COST_CHANGED] if changed else []
    events += [_EVENTS[turn]] if turn in _EVENTS else []
    rows = (figures_told(change.before), figures_told(change.after))
    happenings = tuple(_told(step, at, event, "dish", change.dish, change.causes, *rows, changed=changed)
                       for event in events)
    left = change.dish if turn is Crossing.OUTSIDE else None
    back = change.dish if turn is not None and left is None else None
    return Item(happenings, left, back)


def _told(step: Step, at: datetime, event: Event, about: str, code: str, causes: Sequence[Cause],
          before: Document | None, after: Document | None, **more: Any) -> Happening:
    kinds = dict.fromkeys((cause.kind, cause.action) for cause in causes)
    data = {about: code, "revision": step.place.revision, "as_of": step.place.day.isoformat(),
            "moved_by": step.moved_by.value, "causes": [{"kind": kind, "action": action} for kind, action in kinds],
            **more}
    return Happening(event, at, data, {**causes_told(causes), "before": before, "after": after})


def _changed(change: DishChange) -> list[str]:
    """Which of the published figures differ; all of them where the dish came onto the menu or left it."""
    before, after = change.before or {}, change.after or {}
    return [name for name in FIGURES if before.get(name) != after.get(name)]


def _decided_figures(one: Decided) -> Document | None:
    price = one.price
    return None if price is None else {
        "price": price.id, "supplier": price.supplier, "amount": plain(price.amount),
        "pack_quantity": plain(price.pack_quantity), "pack_unit": price.pack_unit,
        "unit_price": cost_in_words(one.unit_price)}

