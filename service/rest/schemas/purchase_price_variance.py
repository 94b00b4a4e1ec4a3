"""Purchase price variance on the wire."""

from typing import Any

import marshmallow as ma

from service.domain.purchase_price_variance import Effect
from service.rest.fields.choices import OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal, Figure, Whole
from service.rest.fields.texts import Code, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.schemas.costs import GapAnswer
from service.rest.schemas.figures import figure
from service.rest.schemas.ingredients import UNIT_NAMES
from service.rest.schemas.records import record
from service.use_cases.read_purchase_price_variance import Purchase

MOST_PURCHASES = 1000


class PurchaseRequest(Request):
    """What was bought. It says what was paid, or the day whose price in force it was bought at."""

    ingredient = Code(required=True, metadata=says("What was bought."))
    quantity = ExactDecimal(positive=True, required=True, metadata=says("How much of it, in `unit`."))
    unit = OneOf(UNIT_NAMES, required=True, metadata=says("The unit of `quantity`."))
    paid = ExactDecimal(non_negative=True, allow_none=True, metadata=says(
        "Money for all of it, without recoverable tax; left out: at the price in force on `on`."))
    on = Day(allow_none=True, metadata=says("The day of the purchase."))
    supplier = Code(allow_none=True, metadata=says(
        "Whose price in force; left out: that of the supplier that decides."))

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> Purchase:
        return record(Purchase, values)


class PurchasePriceVarianceRequest(Request):
    """Purchases, and the day whose prices in force are the standard."""

    standard_on = Day(required=True, metadata=says("The standard is the price that decides on this day."))
    known_at = Whole(metadata=says("As known at this revision: the head unless given."))
    purchases = Several(Group(PurchaseRequest), max=MOST_PURCHASES, min=1, required=True, metadata=says(
        "What was bought, purchase by purchase."))


class _VarianceFacts(ma.Schema):
    standard_cost = Figure(allow_none=True, required=True, metadata=says(
        "Money: what it would have cost at the standard price; null: not known."))
    actual_cost = Figure(allow_none=True, required=True, metadata=says("Money: what it cost; null: not known."))
    variance = Figure(allow_none=True, required=True, metadata=says(
        "Money: (actual price - standard price) x quantity; adverse is positive."))
    variance_percent = Figure(allow_none=True, required=True, metadata=says(
        "Of the standard cost; null where that is nil."))
    effect = OneOf(tuple(Effect), allow_none=True, required=True, metadata=says(
        "adverse: dearer than standard; favourable: cheaper; null: not known."))


class PurchaseVarianceAnswer(_VarianceFacts, Answer):
    """One purchase against the standard."""

    ingredient = Code(metadata=says("What was bought."))
    name = Text(metadata=says("What the kitchen calls it."))
    quantity = Figure(metadata=says("As given, in `unit`."))
    unit = Text(metadata=says("The unit of `quantity`."))
    base_quantity = Figure(metadata=says("The same in `base_unit`."))
    base_unit = Text(metadata=says("kg, l or each: what unit prices are per."))
    on = Day(allow_none=True, metadata=says("As given."))
    supplier = Text(allow_none=True, metadata=says("Whose price it was bought at; null: not said."))
    standard_unit_price = figure("Money per base unit, in force on the standard's day.")
    standard_price = Text(allow_none=True, metadata=says("The id of that price."))
    actual_unit_price = figure("Money per base unit: paid over quantity, or the price in force.")
    actual_price = Text(allow_none=True, metadata=says("The id of the price in force; null: what was paid was given."))
    gaps = Several(Group(GapAnswer), metadata=says("What is not known; empty when there is a variance."))


class TotalVarianceAnswer(_VarianceFacts, Answer):
    """All purchases together; null figures while one purchase lacks them."""

    status = OneOf(("complete", "incomplete"), metadata=says("incomplete: some purchase has no variance."))
    purchases = Whole(metadata=says("How many there are."))
    without_variance = Whole(metadata=says("How many have no variance, for want of a price."))
    known_variance = Figure(metadata=says("The sum over the purchases that have one."))


class PurchasePriceVarianceAnswer(Answer):
    """The purchase price variance, purchase by purchase and in total."""

    standard_on = Day(metadata=says("The day whose prices are the standard."))
    revision = Whole(metadata=says("The revision that the prices are of."))
    currency = Text(metadata=says("ISO 4217, of every amount here."))
    purchases = Several(Group(PurchaseVarianceAnswer), metadata=says("In the order in which they were given."))
    total = Group(TotalVarianceAnswer, metadata=says("All of them together."))
