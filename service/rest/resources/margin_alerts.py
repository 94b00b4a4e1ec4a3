"""Margin alerts over HTTP: which dishes crossed their targets, and that somebody saw it."""

from collections.abc import Mapping
from typing import Any

from flask import Response, request

from service.rest.answered import answered
from service.rest.api_keys import caller, needs
from service.rest.asking import asker
from service.rest.conditional import prebuilt_answer
from service.rest.costs_media import JSON, json_bytes, prebuilt
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.schemas.margin_alerts import (
    AcknowledgementRequest,
    MarginAlertAnswer,
    MarginAlertPage,
    MarginAlertsQuery,
)
from service.use_cases import acknowledge_margin_alert, read_margin_alerts
from service.use_cases.documents import Document
from service.use_cases.margin_alerts_port import AlertsAsked
from service.use_cases.position import Position
from service.use_cases.raise_margin_alerts import MarginWatch
from service.use_cases.read_margin_alerts import AlertPage

_FILTERS = ("open", "acknowledged", "dish", "section", "start", "end")


def margin_alerts(positions: Positions, watch: MarginWatch) -> Blueprint:
    """`/v1/margin-alerts`."""
    blueprint = Blueprint("margin-alerts", "Dishes that crossed their target food cost, out of it and back.",
                          url_prefix="/v1/margin-alerts")
    _reads(blueprint, positions, watch)

    @blueprint.post("/<code:alert_id>/acknowledgement")
    @needs("menu:write")
    @blueprint.arguments(AcknowledgementRequest)
    @blueprint.idempotent
    @blueprint.refuses(404)
    @blueprint.response(200, MarginAlertAnswer)
    def post_margin_alert_acknowledgement(body: Mapping[str, Any], alert_id: str) -> Any:
        """Note that somebody saw an alert. It moves no figure, and the dish stays where it is.

        The same note again takes no revision; another one is kept beside the first, and shown in its place.
        """
        head = caller().head
        receipt = acknowledge_margin_alert.acknowledge_margin_alert(
            positions.ledger, watch, head, positions.ledger.today_at(head), alert_id, body["note"], asker())
        return answered(receipt, 200)

    return blueprint


def _reads(blueprint: Blueprint, positions: Positions, watch: MarginWatch) -> None:
    ledger = positions.ledger

    @blueprint.get("")
    @needs("read")
    @blueprint.arguments(MarginAlertsQuery, location="query")
    @blueprint.response(200, MarginAlertPage, tagged=True, paged=True)
    def list_margin_alerts(query: Mapping[str, Any]) -> Response:
        """List which dishes crossed their targets: out of them, back, and off the menu; when, and by what.

        The latest first. A target is crossed once: nothing repeats while a dish stays outside, and a figure that is
        not known in between crosses nothing. What comes into force at midnight is there like everything else.
        `open=true` lists what needs attention now.
        """
        cursor, head = positions.cursors.place(query), caller().head
        found = read_margin_alerts.list_margin_alerts(
            ledger, watch, head, ledger.today_at(head), AlertsAsked(**{name: query.get(name) for name in _FILTERS}),
            None if cursor is None else cursor.position, query["limit"])
        revision, day = _reached(positions, found) if cursor is None else (cursor.revision, cursor.as_of)
        document, _, headers = positions.cursors.page(
            found.data, revision=revision, as_of=day, next_position=found.next_before)
        return _answer(positions, "margin-alerts", document | {"up_to_date": found.watched.up_to_date}, headers)

    @blueprint.get("/<code:alert_id>")
    @needs("read")
    @blueprint.refuses(404)
    @blueprint.response(200, MarginAlertAnswer, tagged=True)
    def read_margin_alert(alert_id: str) -> Response:
        """Read one alert: how the dish stood before and after, and what became of it."""
        head = caller().head
        document = read_margin_alerts.read_margin_alert(ledger, watch, head, ledger.today_at(head), alert_id)
        return _answer(positions, alert_id, document, {})


def _reached(positions: Positions, found: AlertPage) -> tuple[int, Any]:
    """What the alerts are of: all that is recorded by now, or as far as the walk has got."""
    head, watched = caller().head, found.watched
    if watched.up_to_date:
        return head.revision, positions.ledger.today_at(head)
    return watched.place.revision, watched.place.day


def _answer(positions: Positions, variant: str, document: Document, headers: Mapping[str, str]) -> Response:
    """The answer with a tag of the head, the day and its bytes: an acknowledgement moves no figure, but changes it."""
    head = caller().head
    position = Position(head.revision, head.hash, positions.ledger.today_at(head))
    return prebuilt_answer(prebuilt(position, variant, json_bytes(document), JSON, tuple(headers.items())), request)
