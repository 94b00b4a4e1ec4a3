"""The workbook over HTTP: the menu's costs as a spreadsheet that computes, from price to margin."""

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

from flask import Response, request

from service.rest.api_keys import needs
from service.rest.comma_lists import CommaList
from service.rest.conditional import Prebuilt, prebuilt_answer, tag_matches
from service.rest.csv_answers import disposition
from service.rest.fields.exact_field import says
from service.rest.fields.texts import Code
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.components import header_ref
from service.rest.position import Positions
from service.rest.resources.kept_records import named
from service.rest.resources.price_list_templates import XLSX
from service.rest.schemas.records import PositionQuery
from service.use_cases.position import Position
from service.use_cases.read_workbook import MOST_LINES, Workbooks, WriteWorkbook, workbook_source

_BINARY = {"schema": {"type": "string", "format": "binary"}}


class WorkbookQuery(PositionQuery):
    """Of which dishes, as of which day, as known at which revision."""

    dishes = CommaList(Code(), metadata=says(
        "Only these dishes and all that they rest on; without it, everything that stands that day."))


def workbook(positions: Positions, write: WriteWorkbook) -> Blueprint:
    """`/v1/workbook.xlsx`; `write` makes the bytes of the file."""
    blueprint = Blueprint("workbook", "Costs as a spreadsheet whose cells are live formulas.", url_prefix="/v1")
    workbooks = Workbooks(write)

    @blueprint.get("/workbook.xlsx")
    @needs("read")
    @blueprint.arguments(WorkbookQuery, location="query")
    @blueprint.doc(responses={200: {"description": "The workbook.", "content": {XLSX: _BINARY}}})
    @blueprint.response(200, tagged=True, headers={"Content-Disposition": header_ref("Disposition")})
    @named("read_workbook", "Read the costs of the menu as a workbook that computes.\n\n"
           "Sheets of prices, breakdowns, cuts, recipes and dishes, linked by formulas from the supplier's price to "
           "the margin: change a yellow cell and see the dishes move. It is a copy, connected to nothing. At most "
           f"{MOST_LINES} lines; of a longer menu, name the dishes.")
    def read(query: Mapping[str, Any]) -> Response:
        snapshot = positions.snapshot(positions.asked(query))
        source = workbook_source(snapshot, sorted(query.get("dishes", ())))
        tag = _tag(snapshot.position, source.chosen or ())
        known = request.environ.get("HTTP_IF_NONE_MATCH")
        has_it = known is not None and tag_matches(tag, known)
        body = b"" if has_it else workbooks.of(snapshot, source)
        named_file = ("Content-Disposition", disposition(f"menu-costs-{snapshot.position.day}.xlsx"))
        return prebuilt_answer(Prebuilt(body, None, tag, XLSX, (named_file,)), request)

    return blueprint


def _tag(at: Position, dishes: Sequence[str]) -> str:
    """Revision, day, which dishes, and the ledger's hash: the same tag, the same bytes."""
    chosen = f".{hashlib.sha256(','.join(dishes).encode()).hexdigest()[:16]}" if dishes else ""
    return f'"{at.revision}.{at.day}.workbook{chosen}.{at.hash[:16]}"'
