"""Sales over HTTP: the POS sends what it sold, by business date; finance reads it, also as it was known before."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import marshmallow as ma
from flask import Response, request

from service.domain.errors import NotFound, WrongValue
from service.domain.sales import SalesLine
from service.rest.answered import answered
from service.rest.api_keys import needs
from service.rest.asking import asker
from service.rest.costs_media import CSV, JSON, form_asked
from service.rest.csv_answers import csv_bytes, disposition
from service.rest.fields.times import Day
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.components import header_ref
from service.rest.position import Positions
from service.rest.sales_files import SALES_COLUMNS, SALES_FILES
from service.rest.schemas.sales import (
    RecordedSalesAnswer,
    SalesDayAnswer,
    SalesDayQuery,
    SalesDayRequest,
    SalesPage,
    SalesQuery,
    SalesRequest,
    SentSalesQuery,
)
from service.use_cases.read_sales import hold_to_days, list_sales, read_sales_day, sales_rows
from service.use_cases.record_sales import record_sales
from service.use_cases.sales_files import HowSalesAreWritten, ReadSalesFile, SentDay

_MARKS = {"point": ".", "comma": ","}
_BOTH = {"responses": {200: {"content": {CSV.partition(";")[0]: {"schema": {"type": "string"}}}}}}


def sales(positions: Positions, read_file: ReadSalesFile) -> Blueprint:
    """`/v1/sales`."""
    blueprint = Blueprint("sales", "What the POS sold, by business date.", url_prefix="/v1/sales")
    _reads(blueprint, positions)
    _writes(blueprint, positions, read_file)
    return blueprint


def _reads(blueprint: Blueprint, positions: Positions) -> None:
    @blueprint.get("")
    @needs("read")
    @blueprint.arguments(SalesQuery, location="query")
    @blueprint.refuses(406)
    @blueprint.doc(**_BOTH)
    @blueprint.response(200, SalesPage, paged=True, headers={"Content-Disposition": header_ref("Disposition")})
    def list_sales_days(query: Mapping[str, Any]) -> Any:
        """List the business dates that have sales, and what each comes to.

        `Accept: text/csv` gives every line of all dates, whole, as a table that can be sent again; `limit` and `cursor`
        are for JSON.
        """
        form = form_asked(JSON, CSV)
        hold_to_days(query["start"], query["end"])
        page = positions.recorded_page(query)
        asked = (query["start"], query["end"], page.position.revision)
        if form == CSV:
            return _table(csv_bytes(SALES_COLUMNS, sales_rows(positions.ledger.sales.days(*asked))), *asked[:2])
        return positions.envelope(list_sales(positions.ledger, *asked, page.after, page.limit), page)

    @blueprint.get("/<code:business_date>")
    @needs("read")
    @blueprint.arguments(SalesDayQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.response(200, SalesDayAnswer, tagged=True)
    def read_sales(query: Mapping[str, Any], business_date: str) -> Any:
        """Read the sales of a business date, line by line."""
        day = _day(business_date)
        if day is None:
            raise NotFound(f"There are no sales of {business_date}: a business date is written as in 2026-11-24.")
        return read_sales_day(positions.ledger, day, positions.recorded(query).revision)


def _writes(blueprint: Blueprint, positions: Positions, read_file: ReadSalesFile) -> None:
    @blueprint.put("/<code:business_date>")
    @needs("sales:write")
    @blueprint.arguments(SentSalesQuery, location="query")
    @blueprint.json_or_file(SalesDayRequest, SALES_FILES)
    @blueprint.idempotent
    @blueprint.response(200, RecordedSalesAnswer, created=True)
    def keep_sales(query: Mapping[str, Any], sent: Any, business_date: str) -> Any:
        """Record all that was sold on a business date, in place of what was sent before.

        Safe to repeat: what says the same takes no revision. Nothing is lost: `known_at` reads what stood before. Send
        an Idempotency-Key where a late repeat could undo a correction.
        """
        day = _day(business_date)
        if day is None:
            raise WrongValue("Write the business date as in 2026-11-24.", parameter="business_date",
                             error_code="not-a-date")
        where = {"parameter": "business_date"}
        if isinstance(sent, bytes):
            days = [SentDay(each.business_date, each.lines, where) for each in read_file(sent, _how(query, day))]
        else:
            days = [SentDay(day, sent["lines"], where)]
        return _recorded(positions, days)

    @blueprint.post("")
    @needs("sales:write")
    @blueprint.arguments(SentSalesQuery, location="query")
    @blueprint.json_or_file(SalesRequest, SALES_FILES)
    @blueprint.idempotent
    @blueprint.response(200, RecordedSalesAnswer, created=True)
    def post_sales(query: Mapping[str, Any], sent: Any) -> Any:
        """Record all that was sold on some business dates, in one revision, in place of what was sent before.

        Every date that is named is replaced whole. Safe to repeat, as PUT is.
        """
        return _recorded(positions, read_file(sent, _how(query, None)) if isinstance(sent, bytes)
                         else _by_date(sent["lines"]))


def _day(text: str) -> date | None:
    try:
        return Day().read(text)
    except ma.ValidationError:
        return None


def _how(query: Mapping[str, Any], day: date | None) -> HowSalesAreWritten:
    return HowSalesAreWritten(day, _MARKS.get(query.get("decimal", ""), ""))


def _by_date(lines: Sequence[tuple[date, SalesLine]]) -> Sequence[SentDay]:
    """The dates in the order in which they come up, each with the place of its first line."""
    days: dict[date, tuple[int, list[SalesLine]]] = {}
    for place, (day, line) in enumerate(lines):
        days.setdefault(day, (place, []))[1].append(line)
    return [SentDay(day, of_day, {"pointer": f"#/lines/{place}/business_date"})
            for day, (place, of_day) in days.items()]


def _recorded(positions: Positions, days: Sequence[SentDay]) -> Any:
    receipt = record_sales(positions.ledger, days, asker())
    document, _, headers = answered(receipt)
    created = any(day["outcome"] == "recorded" for day in document["days"]) and not receipt.repeated
    return document, 201 if created else 200, headers | ({"Location": request.path} if created else {})


def _table(body: bytes, first: date, last: date) -> Response:
    return Response(body, 200, {"Content-Disposition": disposition(f"sales-{first}-{last}.csv")}, content_type=CSV)
