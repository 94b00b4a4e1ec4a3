"""Prices on the wire."""

import marshmallow as ma

from service.rest.fields.choices import Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal, Figure, Whole
from service.rest.fields.texts import Code, Name, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.schemas.ingredients import UNIT_NAMES
from service.rest.schemas.records import ListQuery, PageAnswer


class ReasonRequest(Request):
    """Why something recorded no longer counts."""

    reason = Name(max=500, required=True, metadata=says("Kept with the record, for whoever asks later."))


class EndedAnswer(Answer):
    """When and why something recorded no longer counts."""

    revision = Whole(metadata=says("The revision that said so."))
    reason = Text(metadata=says("Why, in the words of whoever said so."))


class _PriceFacts(ma.Schema):
    supplier = Code(required=True, metadata=says("Who sells it."))
    amount = ExactDecimal(non_negative=True, required=True, metadata=says(
        "Money for the pack, without recoverable tax. Zero is a price."))
    pack_quantity = ExactDecimal(positive=True, required=True, metadata=says(
        "How much the pack holds, in `pack_unit`: 1 for a price per kg, 8 for a case of 8 kg."))
    pack_unit = OneOf(UNIT_NAMES, required=True, metadata=says("The unit of `pack_quantity`."))
    effective_from = Day(metadata=says("The first day; today unless given."))
    effective_to = Day(allow_none=True, metadata=says("The last day, inclusive (a contract, a promotion); null: open."))
    reference = Text(max=120, metadata=says("The supplier's list or invoice."))


class PriceRequest(_PriceFacts, Request):
    """A price to be recorded."""

    currency = Name(max=3, metadata=says("Refused unless it is the kitchen's."))


class PriceAnswer(_PriceFacts, Answer):
    """A price."""

    id = Text(metadata=says("Revision and entry that recorded it."))
    revision = Whole(metadata=says("The revision that recorded it."))
    ingredient = Code(metadata=says("What it is the price of."))
    withdrawn = Group(EndedAnswer, allow_none=True, metadata=says("Null: it was not withdrawn."))


class PricePage(PageAnswer):
    """A page of an ingredient's prices, the one recorded last first."""

    data = Several(Group(PriceAnswer), metadata=says("The one recorded last first."))


class ListedPrice(PriceAnswer):
    """A price in force."""

    base_unit = OneOf(("kg", "l", "each"), metadata=says("The ingredient's base unit."))
    unit_price = Figure(allow_none=True, metadata=says("Money per base unit; null: it does not convert."))
    preferred = Flag(metadata=says("Whether its supplier is the ingredient's preferred one."))


class PriceListQuery(ListQuery):
    """Which price list."""

    supplier = Code(metadata=says("Of this supplier alone."))


class PriceListPage(PageAnswer):
    """A page of the price list of a day."""

    data = Several(Group(ListedPrice), metadata=says("By ingredient and supplier."))
