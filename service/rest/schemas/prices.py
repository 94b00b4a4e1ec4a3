"""Prices on the wire."""

import marshmallow as ma

from service.rest.exact_fields import Code, Day, ExactDecimal, Figure, Flag, Group, Name, OneOf, Several, Text, Whole
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.schemas.ingredients import UNIT_NAMES
from service.rest.schemas.records import ListQuery, PageAnswer


class ReasonRequest(Request):
    """Why something recorded no longer counts."""

    reason = Name(max=500, required=True)


class EndedAnswer(Answer):
    """When and why something recorded no longer counts."""

    revision = Whole()
    reason = Text()


class _PriceFacts(ma.Schema):
    supplier = Code(required=True)
    amount = ExactDecimal(non_negative=True, required=True, metadata={
        "description": "Money for the pack, without recoverable tax. Zero is a price."})
    pack_quantity = ExactDecimal(positive=True, required=True)
    pack_unit = OneOf(UNIT_NAMES, required=True)
    effective_from = Day(metadata={"description": "The first day; today unless given."})
    effective_to = Day(allow_none=True, metadata={
        "description": "The last day, inclusive (a contract, a promotion); null: open."})
    reference = Text(max=120, metadata={"description": "The supplier's list or invoice."})


class PriceRequest(_PriceFacts, Request):
    """A price to be recorded."""

    currency = Name(max=3, metadata={"description": "Refused unless it is the kitchen's."})


class PriceAnswer(_PriceFacts, Answer):
    """A price."""

    id = Text(metadata={"description": "Revision and entry that recorded it."})
    revision = Whole()
    ingredient = Code()
    withdrawn = Group(EndedAnswer, allow_none=True)


class PricePage(PageAnswer):
    """A page of an ingredient's prices, the one recorded last first."""

    data = Several(Group(PriceAnswer))


class ListedPrice(PriceAnswer):
    """A price in force."""

    base_unit = OneOf(("kg", "l", "each"))
    unit_price = Figure(allow_none=True, metadata={"description": "Money per base unit; null: it does not convert."})
    preferred = Flag(metadata={"description": "Whether its supplier is the ingredient's preferred one."})


class PriceListQuery(ListQuery):
    """Which price list."""

    supplier = Code(metadata={"description": "Of this supplier alone."})


class PriceListPage(PageAnswer):
    """A page of the price list of a day."""

    data = Several(Group(ListedPrice))
