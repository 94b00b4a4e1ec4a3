"""A what-if on the wire: what is supposed."""

from typing import Any

import marshmallow as ma

from service.domain.breakdown import Method
from service.rest.fields.choices import Choice, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal, Whole
from service.rest.fields.texts import Code, Name, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Request
from service.rest.schemas.covers import CoversRequested
from service.rest.schemas.ingredients import UNIT_NAMES
from service.rest.schemas.records import record
from service.rest.sentences import Sentence
from service.use_cases.what_if import LISTS
from service.use_cases.what_if_asked import (
    MenuPricesMove,
    OtherMenuPrice,
    OtherMethod,
    OtherPortions,
    OtherPrice,
    OtherYields,
    OutputYield,
    PricesMove,
    Ramp,
    Supposition,
    Swap,
)

MOST_CHANGES, MOST_NAMED = 500, 1000
_USES = ("ingredient", "cut", "recipe")
_NAME_ONE = Sentence("Name exactly one of ingredient, cut and recipe.", "name-exactly-one")
_NAME_OWNER = Sentence("Name the dish or the recipe whose line it is, exactly one of them.", "name-exactly-one")
_UNIT_TOO = Sentence("Give quantity and unit together, or neither: the line then keeps its own.", "name-exactly-one")
_FILTERS = ("ingredients", "suppliers", "kinds")
_A_PRICE = ("ingredient", "supplier", "amount", "pack_quantity", "pack_unit")


def _either(values: dict[str, Any], moved: tuple[str, ...], set_to: tuple[str, ...], what: str) -> None:
    """Hold a change to one of its two forms: a percentage with its filters, or the whole of what is set.

    Raises:  ValidationError that names what is missing, or what is too much.
    """
    if "percent" in values:
        if any(name in values for name in set_to):
            raise ma.ValidationError([Sentence(f"Give a percent, or {what}, not both.", "name-exactly-one")])
        return
    if any(name in values for name in moved):
        raise ma.ValidationError([Sentence(f"{' and '.join(moved)} go with a percent: give one.", "name-exactly-one")])
    missing = {name: [Sentence(f"Give it, or a percent instead of {what}.", "required")]
               for name in set_to if name not in values}
    if missing:
        raise ma.ValidationError(missing)


class _PriceFilters(Request):
    ingredients = Several(Code(), max=MOST_NAMED, min=1, metadata=says("Only the prices of these ingredients."))
    suppliers = Several(Code(), max=MOST_NAMED, min=1, metadata=says("Only those of these suppliers."))
    kinds = Several(Name(max=60), max=100, min=1, metadata=says("Only those of ingredients of these kinds."))


class PriceChangeRequest(_PriceFilters):
    """Prices that move by a percentage, or one price that is another."""

    percent = ExactDecimal(min="-100", max="100000", metadata=says(
        "By how much the prices in force move; filters hold together, none means all."))
    ingredient = Code(metadata=says("Instead of a percent: the ingredient that has another price."))
    supplier = Code(metadata=says("Whose price it is."))
    amount = ExactDecimal(non_negative=True, metadata=says("Money for the pack."))
    pack_quantity = ExactDecimal(positive=True, metadata=says("How much the pack holds."))
    pack_unit = OneOf(UNIT_NAMES, metadata=says("The unit of `pack_quantity`."))

    @ma.validates_schema(skip_on_field_errors=True)
    def _one_form(self, values: dict[str, Any], **_options: Any) -> None:
        _either(values, _FILTERS, _A_PRICE, "a price with its ingredient, supplier, amount and pack")

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> PricesMove | OtherPrice:
        return record(PricesMove, values) if "percent" in values else record(OtherPrice, values)


class OutputYieldRequest(Request):
    """The yield of one output."""

    cut = Code(required=True, metadata=says("The output's code."))
    yield_fraction = ExactDecimal(data_key="yield", non_negative=True, max="1", required=True, metadata=says(
        "A fraction of the input's weight."))

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> OutputYield:
        return record(OutputYield, values)


class YieldsChangeRequest(Request):
    """Other yields of a breakdown, as if they were declared."""

    breakdown = Code(required=True, metadata=says("The breakdown's code."))
    yields = Several(Group(OutputYieldRequest), max=100, min=1, required=True, metadata=says(
        "Outputs that are not named keep the yield of that day, to 6 decimals."))

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> OtherYields:
        return record(OtherYields, values)


class MethodChangeRequest(Request):
    """Another method of sharing the joint cost of a breakdown."""

    breakdown = Code(required=True, metadata=says("The breakdown's code."))
    method = Choice(Method, required=True, metadata=says("The method."))

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> OtherMethod:
        return record(OtherMethod, values)


class MenuPriceChangeRequest(Request):
    """The menu price of a dish, or a percentage by which menu prices move, each to the kitchen's nearest step."""

    dish = Code(metadata=says("The dish that has another menu price."))
    menu_price = ExactDecimal(non_negative=True, metadata=says("Its menu price."))
    percent = ExactDecimal(min="-100", max="100000", metadata=says(
        "Instead of a dish and its price: by how much menu prices move."))
    dishes = Several(Code(), max=MOST_NAMED, min=1, metadata=says("Only those of these dishes."))
    sections = Several(Text(max=60), max=100, min=1, metadata=says("Only those of these sections of the menu."))

    @ma.validates_schema(skip_on_field_errors=True)
    def _one_form(self, values: dict[str, Any], **_options: Any) -> None:
        _either(values, ("dishes", "sections"), ("dish", "menu_price"), "a dish and its menu price")

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> MenuPricesMove | OtherMenuPrice:
        return record(MenuPricesMove, values) if "percent" in values else record(OtherMenuPrice, values)


class PortionsChangeRequest(Request):
    """Another number of portions from the same lines: larger or smaller ones."""

    dish = Code(required=True, metadata=says("The dish's code."))
    portions = ExactDecimal(positive=True, required=True, metadata=says("How many its lines make."))

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> OtherPortions:
        return record(OtherPortions, values)


class UsedRequest(Request):
    """An ingredient, a cut or a recipe."""

    ingredient = Code(metadata=says("An ingredient."))
    cut = Code(metadata=says("A cut that a breakdown in use makes."))
    recipe = Code(metadata=says("A recipe."))

    @ma.validates_schema
    def _name_one(self, values: dict[str, Any], **_options: Any) -> None:
        if len(values) != 1:
            raise ma.ValidationError([_NAME_ONE])

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> tuple[str, str]:
        return next(iter(values.items()))


class SwapRequest(Request):
    """One thing used instead of another, in the lines of a dish or a recipe; yields of the line stay."""

    dish = Code(metadata=says("The dish whose lines they are; or"))
    recipe = Code(metadata=says("the recipe."))
    uses = Group(UsedRequest, required=True, metadata=says("What its lines use."))
    instead = Group(UsedRequest, required=True, metadata=says("What they would use."))
    quantity = ExactDecimal(positive=True, metadata=says("How much of it, where it is not as much as before."))
    unit = OneOf(UNIT_NAMES, metadata=says("The unit of `quantity`."))

    @ma.validates_schema(skip_on_field_errors=True)
    def _whole(self, values: dict[str, Any], **_options: Any) -> None:
        if ("dish" in values) == ("recipe" in values):
            raise ma.ValidationError([_NAME_OWNER])
        if ("quantity" in values) != ("unit" in values):
            raise ma.ValidationError({"unit" if "quantity" in values else "quantity": [_UNIT_TOO]})

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> Swap:
        kind = "dish" if "dish" in values else "recipe"
        return Swap((kind, values[kind]), values["uses"], values["instead"], values.get("quantity"), values.get("unit"))


class RampRequest(_PriceFilters):
    """Prices in steps from one percentage to another, on top of all else that is supposed."""

    from_percent = ExactDecimal(min="-100", max="100000", required=True, metadata=says("The first step."))
    to_percent = ExactDecimal(min="-100", max="100000", required=True, metadata=says("The last, where a step hits it."))
    step_percent = ExactDecimal(positive=True, max="100000", required=True, metadata=says(
        "From one step to the next; at most 61 steps."))

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> Ramp:
        return record(Ramp, values)


class WhatIfRequest(CoversRequested):
    """What is supposed: as if it were recorded in one revision, to hold from the day that is asked about."""

    as_of = Day(metadata=says("The day from which it holds, and that the answer is of: today unless given."))
    known_at = Whole(metadata=says("On what is known at this revision: the head unless given."))
    prices = Several(Group(PriceChangeRequest), max=MOST_CHANGES, metadata=says("Suppliers' prices, in this order."))
    yields = Several(Group(YieldsChangeRequest), max=MOST_CHANGES, metadata=says("Yields of breakdowns."))
    methods = Several(Group(MethodChangeRequest), max=MOST_CHANGES, metadata=says("Methods of breakdowns."))
    menu_prices = Several(Group(MenuPriceChangeRequest), max=MOST_CHANGES, metadata=says("Menu prices, in this order."))
    portions = Several(Group(PortionsChangeRequest), max=MOST_CHANGES, metadata=says("Portions of dishes."))
    swaps = Several(Group(SwapRequest), max=MOST_CHANGES, metadata=says("What is used instead of what."))
    ramp = Group(RampRequest, metadata=says("Steps of prices, answered as curves."))
    lists = Several(OneOf(LISTS), max=len(LISTS), metadata=says(
        "Tell these of what moves one by one, the others are null: all three unless given."))
    mends_for = Several(Code(), max=MOST_NAMED, metadata=says(
        "Tell the mends of these dishes alone; none, where it is empty. Left out: of every dish outside its target, "
        "which takes about a millisecond each."))


def supposition_of(body: dict[str, Any]) -> Supposition:
    """What a body supposes."""
    names = ("prices", "yields", "methods", "menu_prices", "portions", "swaps")
    return Supposition(**{name: body.get(name, ()) for name in names})
