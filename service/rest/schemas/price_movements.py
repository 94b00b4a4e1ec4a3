"""Price movements on the wire."""

from typing import Any

import marshmallow as ma

from service.domain.price_movement import Status
from service.domain.price_turns import TurnKind
from service.rest.fields.choices import OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Figure, Whole
from service.rest.fields.texts import Code, Text
from service.rest.fields.times import Day, Moment
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.paging import PageQuery
from service.rest.schemas.figures import figure
from service.rest.schemas.records import PageAnswer, record
from service.use_cases.read_price_movements import CoversOfDish

MOST_COVERS = 10_000
_KNOWN_AT = "As known at this revision: the head unless given."


class MovementsQuery(PageQuery):
    """Between which two days, as known at which revision."""

    start = Day(data_key="from", required=True, metadata=says("What moved after this day; at most 400 before `to`."))
    end = Day(data_key="to", metadata=says("Up to this day: the business day today unless given."))
    known_at = Whole(metadata=says(_KNOWN_AT))


class CoversRequest(Request):
    """How many portions of a dish were sold."""

    dish = Code(required=True, metadata=says("The dish's code."))
    covers = Whole(max=1_000_000_000, required=True, metadata=says("Portions sold."))

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> CoversOfDish:
        return record(CoversOfDish, values)


class WeighedMovementsRequest(Request):
    """Between which two days, and the covers that weigh each dish."""

    start = Day(data_key="from", required=True, metadata=says("What moved after this day; at most 400 before `to`."))
    end = Day(data_key="to", metadata=says("Up to this day: the business day today unless given."))
    known_at = Whole(metadata=says(_KNOWN_AT))
    covers = Several(Group(CoversRequest), max=MOST_COVERS, min=1, required=True, metadata=says(
        "The dishes that were sold. A dish that is not named counts nothing in the menu."))


class CauseAnswer(Answer):
    """What made another price decide, from which day on, and who recorded it."""

    kind = Text(metadata=says(f"Stable: {', '.join(TurnKind)}. More may come."))
    day = Day(metadata=says("The first day of it."))
    price = Text(allow_none=True, metadata=says("The id of the price that started or ended; null for other causes."))
    supplier = Text(allow_none=True, metadata=says("Whose price decides from then on; null: none does."))
    supplier_before = Text(allow_none=True, metadata=says("Whose price decided before."))
    decides = Text(allow_none=True, metadata=says("The id of the price that decides from then on."))
    decided_before = Text(allow_none=True, metadata=says("The id of the price that decided before."))
    unit_price_before = figure("Money per base unit; null: not known.")
    unit_price_after = figure("Money per base unit; null: not known.")
    change = figure("By how much the unit price moved.")
    change_percent = figure("Of the unit price before.")
    revision = Whole(metadata=says("The revision that recorded it."))
    made_at = Moment(metadata=says("When it was recorded."))
    who = Text(metadata=says("The name of the key that recorded it."))
    key_id = Text(metadata=says("The id of that key."))
    reference = Text(metadata=says("The supplier's list or invoice, as recorded with the price."))
    proposal = Text(allow_none=True, metadata=says("The price proposal that was accepted; null: none was."))
    file_name = Text(allow_none=True, metadata=says("The supplier's file that the proposal was made of."))


class DishShareAnswer(Answer):
    """An ingredient's share in the movement of one dish."""

    dish = Code(metadata=says("The dish's code."))
    share = Figure(metadata=says("Money per portion."))


class IngredientMovementAnswer(Answer):
    """An ingredient whose price turned at least once: then, now, why, and what it did to the dishes."""

    ingredient = Code(metadata=says("The ingredient's code."))
    name = Text(metadata=says("What the kitchen calls it."))
    base_unit = Text(metadata=says("kg, l or each: what unit prices are per."))
    unit_price_then = figure("Money per base unit on `from`; null: not known.")
    unit_price_now = figure("Money per base unit on `to`; null: not known.")
    change = figure("By how much the unit price moved.")
    change_percent = figure("Of the unit price then; null where that is nil.")
    menu_share = Figure(metadata=says("Its share in the movement of the whole menu."))
    causes = Several(Group(CauseAnswer), metadata=says("In the order in which they came into force."))
    dishes = Several(Group(DishShareAnswer), metadata=says("Its share in each dish that it moved, by code."))


class DishMovementAnswer(Answer):
    """A dish's food cost then and now: change = shares_sum + rounding + other, exactly as they stand."""

    dish = Code(metadata=says("The dish's code."))
    name = Text(metadata=says("As the menu has it."))
    status = OneOf(tuple(Status), metadata=says(
        "complete: its movement can be said. Else its food cost is not known, or it is not on the menu, on one day or "
        "both."))
    food_cost_then = figure("Material per portion on `from`.")
    food_cost_now = figure("Material per portion on `to`.")
    change = figure("Now less then; null unless complete.")
    shares_sum = figure("The sum of the ingredients' shares.")
    rounding = figure("What is left of steps that changed several prices at once.")
    other = figure("What no price did: recipes, breakdowns, yield tests, the dish itself.")
    covers = Whole(allow_none=True, metadata=says("Portions sold; null: none were given."))


class MenuMovementAnswer(Answer):
    """The sum over the dishes, weighted: change = shares_sum + rounding + other, exactly as they stand."""

    change = Figure(metadata=says("Money."))
    shares_sum = Figure(metadata=says("The sum of the ingredients' `menu_share`."))
    rounding = Figure(metadata=says("The dishes' rounding."))
    other = Figure(metadata=says("What no price did."))
    dishes = Whole(metadata=says("How many dishes are in it."))
    without_movement = Whole(metadata=says("How many are not, as their movement cannot be said."))


class _MovementFacts(ma.Schema):
    start = Day(data_key="from", required=True, metadata=says("The day before the first that counts."))
    end = Day(data_key="to", required=True, metadata=says("The last day that counts."))
    currency = Text(required=True, metadata=says("ISO 4217, of every amount here."))
    weights = OneOf(("equal", "covers"), required=True, metadata=says(
        "equal: the menu is one portion of each dish; covers: as many as were sold."))
    menu = Group(MenuMovementAnswer, required=True, metadata=says("What moved on the whole menu."))
    data = Several(Group(IngredientMovementAnswer), required=True, metadata=says("Ingredients, by code."))


class MovementsPage(_MovementFacts, PageAnswer):
    """A page of what moved: some of the ingredients; the dishes are on the first page."""

    dishes = Several(Group(DishMovementAnswer), allow_none=True, metadata=says(
        "Every dish on the menu on either day, by code; null on the pages after the first."))


class WeighedMovementsAnswer(_MovementFacts, Answer):
    """What moved, weighed by covers, whole."""

    revision = Whole(metadata=says("The revision that the figures are of."))
    dishes = Several(Group(DishMovementAnswer), metadata=says(
        "Every dish on the menu on either day, or with covers, by code."))
