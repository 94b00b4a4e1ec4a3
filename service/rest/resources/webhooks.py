"""Webhooks over HTTP: say where to be told of what, and look after it."""

from typing import Any

from service.rest.answered import answered
from service.rest.api_keys import caller, needs
from service.rest.asking import asker
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.schemas.webhooks import (
    NewWebhookAnswer,
    NewWebhookRequest,
    RotatedWebhookAnswer,
    RotationRequest,
    WebhookAnswer,
    WebhookList,
    WebhookRequest,
)
from service.use_cases import keep_webhook
from service.use_cases.conditions import Condition
from service.use_cases.keep_webhook import WebhookAsked, found
from service.use_cases.ports import Ledger
from service.use_cases.webhook_documents import webhook_document
from service.use_cases.webhook_sending import CheckTarget

MANAGE = "webhooks:manage"


def webhooks(ledger: Ledger, check_target: CheckTarget) -> Blueprint:
    """`/v1/webhooks` and `/v1/webhooks/<id>`."""
    blueprint = Blueprint("webhooks", "Whom to tell when prices, figures or margins move.", url_prefix="/v1/webhooks")
    _reads(blueprint, ledger)
    _writes(blueprint, ledger, check_target)
    _secrets(blueprint, ledger, check_target)
    return blueprint


def _reads(blueprint: Blueprint, ledger: Ledger) -> None:
    @blueprint.get("")
    @needs(MANAGE)
    @blueprint.response(200, WebhookList)
    def list_webhooks() -> Any:
        """List every webhook, also those that are told nothing just now."""
        return {"data": [webhook_document(webhook) for webhook in ledger.webhooks.every()]}

    @blueprint.get("/<code:webhook_id>")
    @needs(MANAGE)
    @blueprint.refuses(404)
    @blueprint.response(200, WebhookAnswer, tagged=True)
    def read_webhook(webhook_id: str) -> Any:
        """Read a webhook, and why it is told nothing if so."""
        return webhook_document(found(ledger.webhooks.one(webhook_id), webhook_id))


def _writes(blueprint: Blueprint, ledger: Ledger, check_target: CheckTarget) -> None:
    @blueprint.put("/<code:webhook_id>")
    @needs(MANAGE)
    @blueprint.arguments(WebhookRequest)
    @blueprint.conditional
    @blueprint.refuses(403, 404)
    @blueprint.response(200, WebhookAnswer)
    def change_webhook(asked: WebhookAsked, condition: Condition, webhook_id: str) -> Any:
        """Replace what a webhook is; one that had ended is switched on again.

        It needs If-Match with the revision seen. One that is switched on hears of what comes after that; the feed
        /v1/dish-costs/changes has what came before.
        """
        return keep_webhook.change_webhook(ledger, webhook_id, asked, _may_read(), check_target, condition, asker())

    @blueprint.delete("/<code:webhook_id>")
    @needs(MANAGE)
    @blueprint.conditional
    @blueprint.refuses(404)
    @blueprint.response(204)
    def delete_webhook(condition: Condition, webhook_id: str) -> None:
        """Delete a webhook; what waits for it is not sent any more."""
        keep_webhook.delete_webhook(ledger, webhook_id, condition, asker())


def _secrets(blueprint: Blueprint, ledger: Ledger, check_target: CheckTarget) -> None:
    @blueprint.post("")
    @needs(MANAGE)
    @blueprint.arguments(NewWebhookRequest)
    @blueprint.idempotent
    @blueprint.refuses(403)
    @blueprint.response(201, NewWebhookAnswer)
    def post_webhook(asked: WebhookAsked) -> Any:
        """Make a webhook; the answer shows its secret this once.

        It hears of what happens from now on. Messages follow Standard Webhooks 1.0.0: they are signed with the
        secret, tried for three days, and come at least once; tell repeats by `webhook-id`.
        """
        made = keep_webhook.create_webhook(ledger, asked, _may_read(), check_target, asker())
        return answered(made, secret=True)

    @blueprint.post("/<code:webhook_id>/rotate-secret")
    @needs(MANAGE)
    @blueprint.arguments(RotationRequest)
    @blueprint.idempotent
    @blueprint.refuses(404)
    @blueprint.response(200, RotatedWebhookAnswer)
    def post_webhook_secret(rotation: dict[str, Any], webhook_id: str) -> Any:
        """Give a webhook another secret, shown this once; for a while messages carry a signature by each."""
        return answered(keep_webhook.rotate_secret(ledger, webhook_id, **rotation, asker=asker()), 200, secret=True)


def _may_read() -> bool:
    return "read" in caller().scopes
