"""Covers on the wire: portions of each dish, given or as the POS sold them."""

from typing import Any

import marshmallow as ma

from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal
from service.rest.fields.texts import Code
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Request
from service.rest.schemas.records import record
from service.rest.sentences import Sentence
from service.use_cases.covers_asked import DishCovers, SalesPeriod

MOST_COVERS = 10_000
ONE_OF_BOTH = Sentence("Give covers, or name the sales that they come from, not both.", "name-exactly-one")
AT_LEAST_ONE = Sentence("Give the covers of each dish, or name the sales that they come from.", "name-exactly-one")


class DishCoversRequest(Request):
    """How many portions of a dish."""

    dish = Code(required=True, metadata=says("The dish's code."))
    quantity = ExactDecimal(positive=True, required=True, metadata=says("Portions; half ones too."))

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> DishCovers:
        return record(DishCovers, values)


class SalesPeriodRequest(Request):
    """The business dates whose sales are meant."""

    first = Day(data_key="from", required=True, metadata=says("The first business date."))
    last = Day(data_key="to", required=True, metadata=says("The last one; at most 366 days in all."))

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> SalesPeriod:
        return record(SalesPeriod, values)


class CoversRequested(Request):
    """A request that covers come into: given by dish, or taken from sales, never both."""

    covers = Several(Group(DishCoversRequest), max=MOST_COVERS, min=1, metadata=says(
        "Portions of each dish; one that is not named has none."))
    covers_from_sales = Group(SalesPeriodRequest, metadata=says("The portions that were sold on these business dates."))

    @ma.validates_schema(skip_on_field_errors=True)
    def _not_both(self, values: dict[str, Any], **_options: Any) -> None:
        if "covers" in values and "covers_from_sales" in values:
            raise ma.ValidationError([ONE_OF_BOTH])
