"""Price movements as documents: ingredients with their causes, dishes with the parts of their movement, the menu.

Amounts are text with 4 decimals. The parts of a dish, and those of the menu, add up in them exactly. Prices and their
changes are each rounded once from the exact one.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from itertools import chain

from service.domain.decimal_column import decimal_text
from service.domain.history import recorded_last
from service.domain.kitchen import Kitchen
from service.domain.menu_movement import Covers, MenuMovement, menu_movement
from service.domain.price import Price
from service.domain.price_movement import DishMovement, IngredientMovement, PriceMovements, Status
from service.domain.price_turns import PriceTurn
from service.domain.publication import cost_in_words, percent_in_words
from service.domain.rounding import UNIT_COST_PLACES
from service.use_cases.documents import Document, moment
from service.use_cases.ports import RecordedRevision

Told = Mapping[int, RecordedRevision]


@dataclass(frozen=True, slots=True)
class Movements:
    """What moved between two days in a kitchen as known at a revision, and the covers that weigh it (None: equally)."""

    kitchen: Kitchen
    start: date
    end: date
    revision: int
    moved: PriceMovements
    covers: Covers | None = None
    menu: MenuMovement = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "menu", menu_movement(self.moved.dishes, self.covers))

    @property
    def currency(self) -> str:
        return self.kitchen.settings_on(self.end).currency


def movement_facts(movements: Movements) -> Document:
    """Of what days and which currency, and what moved on the whole menu."""
    menu = movements.menu
    return {
        "from": movements.start.isoformat(), "to": movements.end.isoformat(), "revision": movements.revision,
        "currency": movements.currency, "weights": "equal" if movements.covers is None else "covers",
        "menu": {
            "change": _amount(menu.change), "shares_sum": _amount(sum(menu.shares.values())),
            "rounding": _amount(menu.rounding), "other": _amount(menu.other), "dishes": menu.dishes,
            "without_movement": menu.without_movement}}


def revisions_of(ingredients: Sequence[IngredientMovement]) -> set[int]:
    """The revisions that turned their prices: what has to be told of who made them."""
    return {turn.cause.made.revision for ingredient in ingredients for turn in ingredient.turns}


def ingredient_rows(movements: Movements, ingredients: Sequence[IngredientMovement], told: Told) -> list[Document]:
    """Some of the ingredients: then and now, the causes, and the share of each in the dishes and the menu."""
    shares: dict[str, list[Document]] = {ingredient.code: [] for ingredient in ingredients}
    for dish in movements.moved.dishes:
        for code in dish.shares.keys() & shares.keys():
            shares[code].append({"dish": dish.code, "share": _amount(dish.shares[code])})
    return [{
        "ingredient": each.code, "name": each.name, "base_unit": each.base_unit,
        **_moved(each.then, each.now, "unit_price_then", "unit_price_now"),
        "menu_share": _amount(movements.menu.shares.get(each.code, 0)),
        "causes": [_cause(turn, told[turn.cause.made.revision]) for turn in each.turns],
        "dishes": shares[each.code]} for each in ingredients]


def dish_rows(movements: Movements) -> list[Document]:
    """Every dish on the menu on either day, and those that have covers all the same, by code."""
    rows = [_dish(dish, movements.covers) for dish in movements.moved.dishes]
    if movements.covers is not None:
        listed = {dish.code for dish in movements.moved.dishes}
        rows += [_dish(_not_on_menu(movements.kitchen, code), movements.covers)
                 for code in movements.covers if code not in listed]
    return sorted(rows, key=lambda row: str(row["dish"]))


def share_rows(movements: Movements) -> Iterator[Document]:
    """Each part of each dish's movement as a row of its own, so that they add up to it."""
    names = {ingredient.code: ingredient.name for ingredient in movements.moved.ingredients}
    of = {"from": movements.start, "to": movements.end, "revision": movements.revision, "currency": movements.currency}
    for dish in movements.moved.dishes:
        covers = None if movements.covers is None else movements.covers.get(dish.code, 0)
        parts = chain((("ingredient", code, share) for code, share in dish.shares.items()),
                      (("rounding", None, dish.rounding), ("other", None, dish.other)))
        for part, code, share in parts:
            if share or code is not None:
                yield of | {
                    "part": part, "ingredient": code, "ingredient_name": names.get(code or ""), "dish": dish.code,
                    "dish_name": dish.name, "covers": covers, "share": _amount(share),
                    "menu_share": _amount(share if covers is None else share * covers)}


def _amount(units: int) -> str:
    return decimal_text(units, UNIT_COST_PLACES)


def _moved(then: Fraction | None, now: Fraction | None, name_then: str, name_now: str) -> Document:
    change = None if then is None or now is None else now - then
    return {name_then: cost_in_words(then), name_now: cost_in_words(now), "change": cost_in_words(change),
            "change_percent": percent_in_words(change / then * 100) if change is not None and then else None}


def _cause(turn: PriceTurn, told: RecordedRevision) -> Document:
    cause = turn.cause
    of = cause.price or turn.after
    return {
        "kind": cause.kind.value, "day": turn.day.isoformat(),
        "price": _id(cause.price), "supplier": _supplier(turn.after), "supplier_before": _supplier(turn.before),
        "decides": _id(turn.after), "decided_before": _id(turn.before),
        **_moved(turn.unit_price_before, turn.unit_price_after, "unit_price_before", "unit_price_after"),
        "revision": cause.made.revision, "made_at": moment(told.made_at),
        "who": told.who, "key_id": told.key_id,
        "reference": of.reference if of is not None else "", "proposal": told.proposal, "file_name": told.file_name}


def _id(price: Price | None) -> str | None:
    return None if price is None else price.id


def _supplier(price: Price | None) -> str | None:
    return None if price is None else price.supplier


def _dish(dish: DishMovement, covers: Covers | None) -> Document:
    known = dish.status is Status.COMPLETE
    return {
        "dish": dish.code, "name": dish.name, "status": dish.status.value,
        "food_cost_then": _known(dish.then), "food_cost_now": _known(dish.now), "change": _known(dish.change),
        "shares_sum": _known(sum(dish.shares.values()) if known else None),
        "rounding": _known(dish.rounding if known else None), "other": _known(dish.other if known else None),
        "covers": None if covers is None else covers.get(dish.code, 0)}


def _known(units: int | None) -> str | None:
    return None if units is None else _amount(units)


def _not_on_menu(kitchen: Kitchen, code: str) -> DishMovement:
    """A dish that has covers and is on the menu on neither day."""
    name = recorded_last(kitchen.dishes[code]).record.name
    return DishMovement(code, name, Status.NOT_ON_MENU, None, None, {}, 0, 0)
