"""Sales on the wire."""

from typing import Any

import marshmallow as ma

from service.domain.sales import SaleKind, SalesLine, takings_fault
from service.rest.fields.choices import Choice, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal, Figure, Whole
from service.rest.fields.texts import Code, Name, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer, Query, Request
from service.rest.paging import PageQuery
from service.rest.schemas.records import PageAnswer
from service.rest.sentences import Sentence
from service.use_cases.sales_files import MOST_LINES, MOST_LINES_OF_A_DAY

_BODY_LIMIT = 4_000_000
_KINDS = "sale; comp: given to a guest; staff_meal: eaten by the staff. The last two take nothing."
_KNOWN_AT = "As known at this revision: the head unless given."


class SalesLineRequest(Request):
    """So many portions of what the POS calls by a code. Below zero: taken back, by a void or a refund."""

    pos_code = Name(max=64, required=True, metadata=says("The POS's code, as the dish bears it."))
    quantity = ExactDecimal(required=True, metadata=says("Portions, half ones too."))
    net_takings = ExactDecimal(allow_none=True, metadata=says(
        "Money for all of them, before tax and after discounts; of a comp or a staff meal nothing."))
    kind = Choice(SaleKind, load_default=SaleKind.SALE, metadata=says(_KINDS))

    @ma.validates_schema
    def _hold_to_takings(self, values: dict[str, Any], **_options: Any) -> None:
        wrong = takings_fault(values["kind"], values.get("net_takings"))
        if wrong is not None:
            raise ma.ValidationError({"net_takings": [Sentence(wrong, "wrong-takings")]})

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> Any:
        return _line(values)


class DatedSalesLineRequest(SalesLineRequest):
    """A line, and the business date on which it was sold."""

    business_date = Day(required=True, metadata=says("The business date."))

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> Any:
        return values["business_date"], _line(values)


def _line(values: dict[str, Any]) -> SalesLine:
    takings = values.get("net_takings")
    line = SalesLine(values["pos_code"], values["quantity"], kind=values["kind"])
    return line if takings is None else line._replace(net_takings=takings)


class SalesDayRequest(Request):
    """All that was sold on one business date; no line says that nothing was."""

    BODY_LIMIT = _BODY_LIMIT

    lines = Several(Group(SalesLineRequest), max=MOST_LINES_OF_A_DAY, read_up_to=MOST_LINES, required=True,
                    metadata=says("In any order; a code may stand several times."))


class SalesRequest(Request):
    """All that was sold on some business dates."""

    BODY_LIMIT = _BODY_LIMIT

    lines = Several(Group(DatedSalesLineRequest), min=1, max=MOST_LINES, required=True, metadata=says(
        "In any order. Every date that is named here is replaced whole."))


class SentSalesQuery(Query):
    """How the numbers of a table are written."""

    decimal = OneOf(("point", "comma"), metadata=says(
        "Of CSV: the decimal mark; a comma where the delimiter is a semicolon, else a point, unless given."))


class SalesQuery(PageQuery):
    """Of which business dates."""

    start = Day(data_key="from", required=True, metadata=says("The first business date."))
    end = Day(data_key="to", required=True, metadata=says("The last one; at most 366 days in all."))
    known_at = Whole(metadata=says(_KNOWN_AT))


class SalesDayQuery(Query):
    """As known at which revision."""

    known_at = Whole(metadata=says(_KNOWN_AT))


class _TotalsAnswer(Answer):
    """What a date's lines come to, as they were sent."""

    business_date = Day(metadata=says("The business date."))
    revision = Whole(metadata=says("The revision that recorded these sales."))
    line_count = Whole(metadata=says("How many lines there are."))
    sold = Figure(metadata=says("Portions sold, of all codes."))
    comps = Figure(metadata=says("Portions given to guests."))
    staff_meals = Figure(metadata=says("Portions eaten by the staff."))
    net_takings = Figure(metadata=says("Money, before tax."))


class SalesHeadingAnswer(_TotalsAnswer):
    """The sales of a business date, without their lines."""


class SalesLineAnswer(Answer):
    """A line as it was sent."""

    pos_code = Text(metadata=says("The POS's code."))
    quantity = Figure(metadata=says("Portions; below zero: taken back."))
    net_takings = Figure(metadata=says("Money for all of them, before tax."))
    kind = Choice(SaleKind, metadata=says(_KINDS))


class SalesDayAnswer(_TotalsAnswer):
    """The sales of a business date, line by line."""

    lines = Several(Group(SalesLineAnswer), metadata=says("In the order in which they were sent."))


class SalesPage(PageAnswer):
    """A page of business dates that have sales."""

    data = Several(Group(SalesHeadingAnswer), metadata=says("By date."))


class CodeOfDishesAnswer(Answer):
    """A code of the POS, and the dishes that bear it."""

    pos_code = Text(metadata=says("The POS's code."))
    dishes = Several(Code(), metadata=says("The dishes concerned."))


class RecordedDayAnswer(_TotalsAnswer):
    """What came of the sales of one date."""

    outcome = OneOf(("recorded", "replaced", "unchanged"), metadata=says(
        "unchanged: they say what was recorded already, and take no revision."))
    unknown_pos_codes = Several(Text(), metadata=says(
        "Codes that no dish bears. They are kept: a dish may get them later."))
    shared_pos_codes = Several(Group(CodeOfDishesAnswer), metadata=says(
        "Codes that several dishes on that day's menu bear: what they cost cannot be told."))
    pos_codes_not_on_menu = Several(Group(CodeOfDishesAnswer), metadata=says(
        "Codes of dishes that are not on that day's menu: what they cost cannot be told."))


class RecordedSalesAnswer(Answer):
    """What came of the sales that were sent."""

    revision = Whole(metadata=says("The revision that recorded them; the head before, where all are unchanged."))
    days = Several(Group(RecordedDayAnswer), metadata=says("Each date that was sent, in the order of the request."))
