"""An invented resource, trays of cuts, on which the HTTP layer is tested without any use case behind it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import cache
from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from service.domain.errors import Fault
from service.persistence.clock import system_clock
from service.rest.api_keys import needs
from service.rest.app import create_app
from service.rest.asking import asker
from service.rest.fields.choices import Choice, Fixed, Flag
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal, Figure, Whole
from service.rest.fields.texts import Code, Name, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.blueprint import Blueprint, kept
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.paging import Cursors, PageQuery
from service.rest.sessions import Sessions
from service.use_cases.allowances import Allowances
from service.web.docs_pages import make_docs
from service.web.page_making import make_page
from service.web.site_making import make_site
from tests.bookings import BookedInMemory

SECRET = b"a secret of thirty-two bytes !!!"


class Shape(StrEnum):
    """How a tray is made."""

    DEEP = "deep"
    FLAT = "flat"


class LineRequest(Request):
    """A line of a tray."""

    cut = Code(required=True)
    weight_kg = ExactDecimal(required=True, positive=True)


class TrayRequest(Request):
    """A tray to be kept."""

    READ_ONLY = ("code", "revision")
    name = Name(required=True)
    kind = Fixed("tray")
    price = ExactDecimal(non_negative=True, allow_none=True, load_default=None)
    shape = Choice(Shape)
    pieces = Whole(min=1, max=100)
    lidded = Flag()
    packed_on = Day()
    note = Text(max=40, lines=True)
    lines = Several(Group(LineRequest), max=3, required=True)


class TrayAnswer(Answer):
    """A tray."""

    code = Code()
    name = Name()
    price = ExactDecimal(shown_decimals=2, allow_none=True)
    shape = Choice(Shape)
    cost = Figure(allow_none=True)
    revision = Whole()


class TrayQuery(PageQuery):
    """Which trays."""

    as_of = Day()
    lidded = Flag()


class TrayPage(Answer):
    """A page of trays."""

    data = Several(Group(TrayAnswer))
    revision = Whole()
    as_of = Day()
    next_cursor = Text(allow_none=True)


@dataclass(frozen=True)
class Who:
    """Who calls in these tests."""

    key_id: str
    name: str
    scopes: frozenset[str]
    requests_per_minute: int = 0


CALLERS: Mapping[str, Who] = {
    "reader": Who("r1", "Reading till", frozenset({"read", "costs:read"})),
    "other": Who("r2", "Other till", frozenset({"read", "costs:read"})),
    "chef": Who("c1", "Chef", frozenset({"read", "costs:read", "menu:write"})),
}


def trays(fault: Exception | None = None, seen: list[Any] | None = None) -> Blueprint:
    """The resource; `fault` is raised by every POST, `seen` collects what the views were given."""
    blueprint = Blueprint("trays", "Trays of cuts.", url_prefix="/v1/trays")
    cursors, noted = Cursors(lambda: SECRET), seen if seen is not None else []

    @blueprint.get("")
    @needs("read")
    @blueprint.arguments(TrayQuery, location="query")
    @blueprint.response(200, TrayPage)
    def list_trays(query: dict[str, Any]) -> Any:
        """List the trays."""
        noted.append(query)
        place = cursors.place(query)
        start = place.position if place else 0
        found = [_tray(f"tray-{number}") for number in range(5)]
        last = start + query["limit"]
        return cursors.page(found[start:last], revision=7, as_of=date(2026, 3, 1),
                            next_position=last if last < len(found) else None)

    @blueprint.get("/<code:code>")
    @needs("read")
    @blueprint.response(200, TrayAnswer, tagged=True)
    def read_tray(code: str) -> Any:
        """Read a tray."""
        return _tray(code)

    @blueprint.put("/<code:code>")
    @needs("menu:write")
    @blueprint.arguments(TrayRequest)
    @blueprint.conditional
    @blueprint.response(200, TrayAnswer, created=True)
    def keep_tray(tray: dict[str, Any], condition: Any, code: str) -> Any:
        """Create or replace a tray.

        A tray equal to the one in force takes no revision.
        """
        noted.append((tray, condition))
        return kept(_tray(code, tray), code == "new")

    @blueprint.post("/<code:code>/labels/<int:number>")
    @needs("menu:write")
    @blueprint.arguments(LineRequest)
    @blueprint.idempotent
    @blueprint.refuses(409)
    @blueprint.response(201, TrayAnswer)
    def label_tray(line: dict[str, Any], code: str, number: int) -> Any:
        """Label a tray."""
        noted.append(asker())
        if fault is not None:
            raise fault
        return _tray(code)

    return blueprint


def an_app(*resources: Blueprint, fault: Fault | Exception | None = None, seen: list[Any] | None = None,
           **options: Any) -> Flask:
    """The application with the trays, or with the resources given."""
    authenticate = options.pop("authenticate", CALLERS.get)
    return create_app(resources or (trays(fault, seen),), authenticate=authenticate,
                      sessions=Sessions(authenticate, lambda: SECRET, options.pop("clock", system_clock)),
                      allowances=options.pop("allowances", Allowances(BookedInMemory(), system_clock)),
                      readiness=options.pop("readiness", lambda: {"ledger": True}), make_docs=make_docs,
                      prices_page=make_page("prices"), site=make_site(), **options)


def a_client(**options: Any) -> FlaskClient:
    """A test client of that application."""
    return (an_app(**options) if options else the_app()).test_client()


@cache
def the_app() -> Flask:
    """The application with the trays and nothing out of the ordinary, made once."""
    return an_app()


def as_(who: str, **headers: str) -> dict[str, str]:
    """The header fields of a request by one of the callers; `If_Match="..."` is If-Match."""
    return {"Authorization": f"Bearer {who}"} | {name.replace("_", "-"): value for name, value in headers.items()}


def a_tray(**members: Any) -> dict[str, Any]:
    """The body of a tray that is as it should be, but for the members given."""
    return {"name": "Tray of caps", "kind": "tray", "lines": [{"cut": "topside-cap", "weight_kg": "0.8"}]} | members


def _tray(code: str, tray: Mapping[str, Any] | None = None) -> dict[str, Any]:
    return {"code": code, "name": "Tray", "price": tray and tray["price"], "shape": Shape.FLAT, "cost": None,
            "revision": 214}
