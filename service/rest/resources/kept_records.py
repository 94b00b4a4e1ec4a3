"""Kept records over HTTP: list, read, keep and retire, the same for every kind."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from service.rest.api_keys import needs
from service.rest.asking import asker
from service.rest.openapi_layer.blueprint import Blueprint, kept
from service.rest.position import Positions
from service.rest.schemas.records import ListQuery, PositionQuery, RetireQuery, record
from service.use_cases.conditions import Condition
from service.use_cases.keep_record import keep_record
from service.use_cases.kinds import Kind
from service.use_cases.read_record import list_records, read_record
from service.use_cases.retire_record import retire_record


@dataclass(frozen=True, slots=True)
class Wire:
    """How a kind goes over the wire: its schemas, and the scope that keeps and retires it."""

    request: type[Any]
    answer: type[Any]
    page: type[Any]
    scope: str
    record: type[Any]
    description: str


def kept_records(kind: Kind, wire: Wire, positions: Positions) -> Blueprint:
    """The resource of a kind: `/v1/<plural>` and `/v1/<plural>/<code>`."""
    blueprint = Blueprint(kind.plural, wire.description, url_prefix=f"/v1/{kind.plural}")
    _reads(blueprint, kind, wire, positions)
    _writes(blueprint, kind, wire, positions)
    return blueprint


def named(name: str, summary: str) -> Callable[[Any], Any]:
    """Name a view made in a factory: its operationId, and its summary."""

    def give(view: Any) -> Any:
        view.__name__, view.__doc__ = name, summary
        return view

    return give


def _reads(blueprint: Blueprint, kind: Kind, wire: Wire, positions: Positions) -> None:
    @blueprint.get("")
    @needs("read")
    @blueprint.arguments(ListQuery, location="query")
    @blueprint.response(200, wire.page, paged=True)
    @named(f"list_{kind.plural}", f"List the {kind.plural} that stand on a day.")
    def list_kept(query: Mapping[str, Any]) -> Any:
        page = positions.page(query)
        listed = list_records(positions.kitchen(page.position), kind, page.position.day, page.after, page.limit)
        return positions.envelope(listed, page)

    @blueprint.get("/<code:code>")
    @needs("read")
    @blueprint.arguments(PositionQuery, location="query")
    @blueprint.response(200, wire.answer, tagged=True)
    @named(f"read_{kind.name}", f"Read one {kind.name} as it stands on a day.")
    def read_kept(query: Mapping[str, Any], code: str) -> Any:
        position = positions.asked(query)
        return read_record(positions.kitchen(position), kind, code, position.day) | {"code": code}


def _writes(blueprint: Blueprint, kind: Kind, wire: Wire, positions: Positions) -> None:
    @blueprint.put("/<code:code>")
    @needs(wire.scope)
    @blueprint.arguments(wire.request)
    @blueprint.conditional
    @blueprint.refuses(409)
    @blueprint.response(200, wire.answer, created=True)
    @named(f"keep_{kind.name}", f"Create or replace one {kind.name}, from a day on.\n\nReplacing needs If-Match with "
                                "the revision seen; a record equal to what is in force is left as it is.")
    def keep(body: dict[str, Any], condition: Condition, code: str) -> Any:
        start = body.pop("effective_from", None)
        came = keep_record(positions.ledger, kind, code, record(wire.record, body | {"code": code}), start, condition,
                           asker())
        return kept(came.document, created=came.outcome == "created")

    @blueprint.delete("/<code:code>")
    @needs(wire.scope)
    @blueprint.arguments(RetireQuery, location="query")
    @blueprint.conditional
    @blueprint.refuses(404, 409)
    @blueprint.response(204)
    @named(f"retire_{kind.name}", f"Retire one {kind.name} from a day on.\n\nNothing is erased; refused while "
                                  "something in force uses it.")
    def retire(query: Mapping[str, Any], condition: Condition, code: str) -> None:
        retire_record(positions.ledger, kind, code, query.get("effective_from"), condition, asker())
