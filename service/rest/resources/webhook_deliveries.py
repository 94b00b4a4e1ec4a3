"""What webhooks were told, over HTTP: the deliveries, their log, replays, and a ping."""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from service.rest.api_keys import caller, needs
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.resources.webhooks import MANAGE
from service.rest.schemas.webhooks import (
    DeliveryLogAnswer,
    DeliveryPage,
    DeliveryQuery,
    ReplayedAnswer,
    ReplayRequest,
)
from service.use_cases import read_deliveries
from service.use_cases.webhooks_port import Span

Clock = Callable[[], datetime]


def webhook_deliveries(positions: Positions, clock: Clock) -> Blueprint:
    """`/v1/webhooks/<id>/deliveries`, `.../replay` and `.../ping`."""
    blueprint = Blueprint("webhook-deliveries", "What webhooks were told, and what came of each try.",
                          url_prefix="/v1/webhooks/<code:webhook_id>")
    _reads(blueprint, positions)
    _sends(blueprint, positions, clock)
    return blueprint


def _reads(blueprint: Blueprint, positions: Positions) -> None:
    @blueprint.get("/deliveries")
    @needs(MANAGE)
    @blueprint.arguments(DeliveryQuery, location="query")
    @blueprint.refuses(404)
    @blueprint.response(200, DeliveryPage, paged=True)
    def list_webhook_deliveries(query: Mapping[str, Any], webhook_id: str) -> Any:
        """List what a webhook was told in the last 35 days, the newest first; `state=dead` never arrived."""
        cursor, head = positions.cursors.place(query), caller().head
        listed = read_deliveries.list_deliveries(
            positions.ledger, webhook_id, None if cursor is None else int(cursor.position), query["limit"],
            query.get("state"))
        return positions.cursors.page(listed.data, revision=head.revision, as_of=positions.ledger.today_at(head),
                                      next_position=listed.next_after)

    @blueprint.get("/deliveries/<code:delivery_id>")
    @needs(MANAGE)
    @blueprint.refuses(404)
    @blueprint.response(200, DeliveryLogAnswer)
    def read_webhook_delivery(webhook_id: str, delivery_id: str) -> Any:
        """Read the log of one message: each try, when, and what came of it."""
        return read_deliveries.read_delivery(positions.ledger, webhook_id, delivery_id)


def _sends(blueprint: Blueprint, positions: Positions, clock: Clock) -> None:
    ledger = positions.ledger

    @blueprint.post("/deliveries/<code:delivery_id>/replay")
    @needs(MANAGE)
    @blueprint.refuses(404, 409)
    @blueprint.response(202, DeliveryLogAnswer)
    def post_webhook_delivery_replay(webhook_id: str, delivery_id: str) -> Any:
        """Send a message again, with the same id and bytes; one that waits is left as it is."""
        return read_deliveries.replay_delivery(ledger, webhook_id, delivery_id, clock())

    @blueprint.post("/replay")
    @needs(MANAGE)
    @blueprint.arguments(ReplayRequest)
    @blueprint.refuses(404, 409)
    @blueprint.response(202, ReplayedAnswer)
    def post_webhook_replay(span: Span, webhook_id: str) -> Any:
        """Send a range of messages again, by number or time: those that never arrived, or all."""
        return {"replayed": read_deliveries.replay_deliveries(ledger, webhook_id, span, clock())}

    @blueprint.post("/ping")
    @needs(MANAGE)
    @blueprint.refuses(404, 409)
    @blueprint.response(202, DeliveryLogAnswer)
    def post_webhook_ping(webhook_id: str) -> Any:
        """Have a message sent that tells of nothing, to try the receiver."""
        return read_deliveries.send_ping(ledger, webhook_id, clock())
