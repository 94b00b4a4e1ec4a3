"""What feed links show: tables as CSV, and single figures as plain text, for programs that take an address alone.

Rules that always hold: the figures are those of today at each read, and of dishes those that a key with `costs:read`
sees; what is not known is `n/a`, which no spreadsheet takes for 0; an address that shows nothing says so in the same
words whatever the reason; nothing of an address is told again, kept or logged.

Source: RFC 9110 sections 9.3.2 and 9.3.7: spreadsheet programs ask OPTIONS and HEAD before they GET.
"""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from flask import Response, request

from service.domain.errors import NotFound
from service.rest.api_keys import open_to_all
from service.rest.conditional import Prebuilt, prebuilt_answer
from service.rest.cost_lists import COST_LISTS, CostList
from service.rest.costs_media import CSV, TEXT, csv_prebuilt, prebuilt
from service.rest.csv_answers import Column, Form, value_text
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.components import header_ref
from service.rest.position import Positions
from service.rest.rate_limits import count
from service.rest.recent_answers import recent_answers
from service.rest.schemas.feeds import FeedQuery
from service.use_cases.allowances import Allowances
from service.use_cases.feed_links import DECIMALS, DELIMITERS, KINDS, no_such_feed, opened_feed
from service.use_cases.feed_links_port import FeedLink
from service.use_cases.position import Position
from service.use_cases.snapshot import Snapshot

READS_PER_MINUTE = 1_200
"""Of each link: a sheet of 500 single figures, each asked for by HEAD and GET, is refreshed within it."""

UNKNOWN = "n/a"
_VARY = (("Vary", "Accept-Encoding"),)
_TABLES = {costs_of.name: costs_of for costs_of in COST_LISTS}
_KINDS = {KINDS[name]: costs_of for name, costs_of in _TABLES.items()}


@dataclass(frozen=True, slots=True)
class _Opening:
    """Opens links, and counts what each is asked."""

    positions: Positions
    allowances: Allowances
    clock: Callable[[], datetime]

    def of(self, token: str, costs_of: CostList | None) -> tuple[FeedLink, CostList, Snapshot]:
        """The link, the list that it shows, and the figures of today.

        Raises:  NotFound, QuotaExceeded.
        """
        ledger = self.positions.ledger
        link = opened_feed(ledger, token, self.clock())
        count(self.allowances, f"feed {link.id}", READS_PER_MINUTE)
        if costs_of is None or costs_of.name not in link.lists:
            raise no_such_feed()
        head = ledger.head()
        position = Position(head.figures_revision, head.figures_hash, ledger.today_at(head), or_later=True)
        return link, costs_of, self.positions.snapshot(position, head)


def feed_files(positions: Positions, allowances: Allowances, clock: Callable[[], datetime]) -> Blueprint:
    """`/feeds/<token>/dish-costs.csv`, `/feeds/<token>/dishes/<code>/<figure>`, and so on."""
    blueprint = Blueprint("feed-files", "What feed links show, for whoever has the address.", url_prefix="/feeds")
    blueprint.after_request(_keep_out_of_indexes)
    opening = _Opening(positions, allowances, clock)

    @blueprint.get("/<token>/<table>.csv")
    @open_to_all
    @blueprint.arguments(FeedQuery, location="query")
    @blueprint.refuses(404, 429, 503)
    @blueprint.doc(responses={200: {"content": {CSV.partition(";")[0]: {"schema": {"type": "string"}}}}})
    @blueprint.response(200, tagged=True, headers={"Content-Disposition": header_ref("Disposition")})
    def read_feed_table(query: Mapping[str, Any], token: str, table: str) -> Response:  # noqa: ARG001
        """Read a table of a feed link: a whole list of today's costs as CSV.

        A figure that is not known is `n/a`; `status` says which rows have one. OPTIONS and HEAD are served too.
        """
        link, costs_of, snapshot = opening.of(token, _TABLES.get(table))
        return prebuilt_answer(_table(link, costs_of, snapshot), request)

    @blueprint.get("/<token>/<kind>/<code:code>/<figure>")
    @open_to_all
    @blueprint.arguments(FeedQuery, location="query")
    @blueprint.refuses(404, 429, 503)
    @blueprint.doc(responses={200: {"content": {TEXT.partition(";")[0]: {"schema": {"type": "string"}}}}})
    @blueprint.response(200, tagged=True)
    def read_feed_value(query: Mapping[str, Any], token: str, kind: str, code: str, figure: str) -> Response:  # noqa: ARG001
        """Read a single figure of a feed link, as plain text and nothing else.

        For a cell of a spreadsheet: `=VALUE(WEBSERVICE(A1))`, with this address in A1. It has the decimal mark of the
        link. A figure that is not known is `n/a`.
        """
        link, costs_of, snapshot = opening.of(token, _KINDS.get(kind))
        return prebuilt_answer(_value(link, costs_of, snapshot, code, _column(link, costs_of, figure)), request)

    return blueprint


def _table(link: FeedLink, costs_of: CostList, snapshot: Snapshot) -> Prebuilt:
    form, filename = _form(link), f"{costs_of.name}-{snapshot.position.day}.csv"
    told = "|".join((link.delimiter, link.decimal, str(link.bom), *(link.fields or ("all",))))
    variant = f"feed.{costs_of.name}.{hashlib.sha256(told.encode()).hexdigest()[:16]}"
    return recent_answers(snapshot).kept(variant, lambda: csv_prebuilt(
        snapshot, variant, costs_of.columns_named(link.fields), costs_of.rows(snapshot, True), filename, form, _VARY))


def _value(link: FeedLink, costs_of: CostList, snapshot: Snapshot, code: str, column: Column) -> Prebuilt:
    variant = f"feed.{costs_of.name}.{code}.{column.name}.{link.decimal}"
    return recent_answers(snapshot).kept(variant, lambda: prebuilt(
        snapshot.position, variant,
        value_text(column, costs_of.row(snapshot, code, True).get(column.name), _form(link)).encode(), TEXT, _VARY))


def _column(link: FeedLink, costs_of: CostList, figure: str) -> Column:
    column = costs_of.column(figure)
    if column is not None and (link.fields is None or figure in link.fields):
        return column
    raise NotFound(costs_of.no_such_column(figure) if link.fields is None else
                   f"There is no such figure here; this link has {', '.join(link.fields)}.")


def _form(link: FeedLink) -> Form:
    return Form(DELIMITERS[link.delimiter], DECIMALS[link.decimal], UNKNOWN, link.bom)


def _keep_out_of_indexes(answer: Response) -> Response:
    answer.headers["X-Robots-Tag"] = "noindex"
    return answer
