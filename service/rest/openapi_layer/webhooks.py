"""What the service sends of its own accord, in the API document's `webhooks`: one entry for each event.

Rules that always hold: every event has its message's schema, the three header fields that a receiver verifies it by,
and the answers that mean something to the sender.

Source: OpenAPI 3.1.0, "OpenAPI Object", `webhooks`; Standard Webhooks 1.0.0 (header fields; 2xx alone is success, 410
ends the subscription, Retry-After is honoured).
"""

from collections.abc import Mapping
from inspect import cleandoc
from typing import Any

import marshmallow as ma

from service.rest.openapi_layer.api import Api
from service.rest.openapi_layer.components import WEBHOOK_HEADERS

TAG = "webhooks"
_ANSWERS: Mapping[str, str] = {
    "2XX": "Taken. Answer at once, and work on it afterwards: who is slow is asked again.",
    "3XX": "Not followed: it is tried again at the address that was given.",
    "410": "Gone: nothing more is sent. The webhook's state says so.",
    "429": "Too many: it is tried again when `Retry-After` says.",
    "5XX": "Not now: it is tried again for three days, as after any answer but 2XX and 410, and after none."}


def describe_webhooks(api: Api, messages: Mapping[str, type[ma.Schema]]) -> None:
    """Add an entry for each event, by the schema of its message, to what `api` publishes."""
    if messages:
        api.spec.options["webhooks"] = {event: {"post": _told(api, event, message)}
                                        for event, message in messages.items()}


def _told(api: Api, event: str, message: type[ma.Schema]) -> dict[str, Any]:
    schema = api.ma_plugin.converter.resolve_nested_schema(message)
    return {
        "operationId": "webhook_" + event.replace(".", "_"), "tags": [TAG], "security": [],
        "summary": cleandoc(message.__doc__ or ""),
        "description": "Sent to each webhook that asked for it, at least once, with the same `webhook-id` whenever it "
                       "is sent again. Verify the signature, then look whether you have seen the id.",
        "parameters": [{"$ref": f"#/components/parameters/{name}"} for name in WEBHOOK_HEADERS],
        "requestBody": {"required": True, "content": {"application/json": {"schema": schema}}},
        "responses": {status: {"description": told} for status, told in _ANSWERS.items()}}
