"""The shared parts of the API document, under names of our own: problems, parameters, header fields.

Names never come from Python's HTTPStatus, whose names change with the interpreter (21); titles are those of RFC 9110.
"""

from collections.abc import Mapping
from typing import Any

from service.rest.fields.texts import CODE_LENGTH, CODE_PATTERN
from service.rest.problem_table import REASONS

PROBLEM_RESPONSES: Mapping[int, str] = {status: reason.title().replace(" ", "").replace("Uri", "URI")
                                        for status, reason in REASONS.items()}
"""The component's name of each problem status: 412 is `PreconditionFailed`."""

_TEXT = {"type": "string"}
_TAG = {"type": "string", "pattern": r'^(\*|(W/)?"[^"]*"(\s*,\s*(W/)?"[^"]*")*)$', "maxLength": 4096}

PARAMETERS: Mapping[str, Mapping[str, Any]] = {
    "IfMatch": {"name": "If-Match", "schema": _TAG, "example": '"214"', "description":
                "The revision you have seen, in quotes, to replace or retire it; `*` overwrites whatever is there."},
    "IfNoneMatch": {"name": "If-None-Match", "schema": {"type": "string", "pattern": r"^\*$"}, "example": "*",
                    "description": "`*` creates, and never replaces."},
    "IfNoneMatchRead": {"name": "If-None-Match", "schema": {"type": "string"}, "example": '"214"', "description":
                        "The tag of the answer you have; 304 when it still holds."},
    "IdempotencyKey": {"name": "Idempotency-Key", "schema": {"type": "string", "minLength": 1, "maxLength": 130},
                       "description": "In quotes, such as a UUID, a new one for each request. A repeat within 7 days "
                       "gets the first answer, and nothing is recorded twice."},
}

WEBHOOK_HEADERS: Mapping[str, Mapping[str, Any]] = {
    "WebhookId": {"name": "webhook-id", "required": True, "schema": _TEXT, "description":
                  "The message's id, the same whenever it is sent again: what a receiver knows repeats by."},
    "WebhookTimestamp": {"name": "webhook-timestamp", "required": True, "schema": {"type": "integer"}, "description":
                         "When this try was made, in seconds since 1970: refuse what is older than some minutes."},
    "WebhookSignature": {"name": "webhook-signature", "required": True, "schema": _TEXT, "description":
                         "`v1,` and base64 of HMAC-SHA256 over id, timestamp and body, joined by full stops; several, "
                         "with blanks between, while a secret is being rotated: one that verifies is enough."}}
"""Of Standard Webhooks 1.0.0, on every message that the service sends."""

HEADERS: Mapping[str, Mapping[str, Any]] = {
    "ETag": {"schema": _TEXT, "description": "The tag of this answer, for If-None-Match; of a record, its revision."},
    "Location": {"schema": _TEXT | {"format": "uri-reference"}, "description": "Where the new record is."},
    "Link": {"schema": _TEXT, "description": "`rel=\"next\"`: the next page (RFC 8288); absent on the last."},
    "RequestId": {"schema": _TEXT, "description": "The request's id: yours when you sent one, else a new one."},
    "WWWAuthenticate": {"schema": _TEXT, "description": "How to authenticate, and the scope that is missing."},
    "RetryAfter": {"schema": {"type": "integer"}, "description": "Seconds to wait before trying again."},
    "RateLimit": {"schema": _TEXT, "example": '"minute";r=5871;t=23', "description":
                  "About how many requests are left (`r`) of the minute, and in how many seconds there is more (`t`)."},
    "RateLimitPolicy": {"schema": _TEXT, "example": '"minute";q=6000;w=60', "description":
                        "How many requests (`q`) the key may make in so many seconds (`w`). An answer of 304 counts a "
                        "tenth. Neither field is sent where there is no limit."},
    "Replayed": {"schema": {"const": "true"}, "description":
                 "Only on a repeat under the same Idempotency-Key: this is the first answer again."},
    "Disposition": {"schema": _TEXT, "description": "Names the file when the answer is CSV."},
    "Accept": {"schema": _TEXT, "description": "The media types that are read."},
    "Allow": {"schema": _TEXT, "description": "The methods that are served."},
    "Deprecation": {"schema": _TEXT, "example": "@1803859200", "description":
                    "Since when it is deprecated, in seconds since 1970 after an @ (RFC 9745); `Link` says where to "
                    "read on."},
    "Sunset": {"schema": _TEXT, "description": "Until when it answers, as an HTTP date (RFC 8594)."},
}

RATE_LIMIT: Mapping[str, str] = {"RateLimit-Policy": "RateLimitPolicy", "RateLimit": "RateLimit"}
"""On every answer to a key that has an allowance."""

HEADERS_OF_STATUS: Mapping[int, Mapping[str, str]] = {
    401: {"WWW-Authenticate": "WWWAuthenticate"}, 403: {"WWW-Authenticate": "WWWAuthenticate"},
    405: {"Allow": "Allow"}, 415: {"Accept": "Accept"}, 429: {"Retry-After": "RetryAfter", **RATE_LIMIT},
    503: {"Retry-After": "RetryAfter"}, 507: {"Retry-After": "RetryAfter"}}

SECURITY_SCHEMES: Mapping[str, Mapping[str, Any]] = {
    "bearer": {"type": "http", "scheme": "bearer", "description":
               "`Authorization: Bearer <key>`. Scopes: `costs:read` (current dish costs alone), `read` (everything), "
               "`prices:write` (prices, and proposals of them), `prices:approve` (accept a proposal), `kitchen:write` "
               "(breakdowns, tests, recipes), `menu:write` (dishes, menu prices), "
               "`feeds:manage` (feed links), `webhooks:manage`, `sales:write`, `admin` (all)."},
    "basic": {"type": "http", "scheme": "basic", "description":
              "The same keys for programs that have no field for a header: the key is the password (RFC 7617), the "
              "user name may be anything."},
    "token": {"type": "http", "scheme": "bearer", "bearerFormat": "JWT", "description":
              "Where the operator of the service has named an OpenID Connect provider: an access token of it for this "
              "service, as `Authorization: Bearer <token>`. The operator says which of its claims open which of the "
              "scopes above; what nothing opens is 403."}}

CODE_SCHEMA: Mapping[str, Any] = {"type": "string", "pattern": f"^{CODE_PATTERN}$", "maxLength": CODE_LENGTH}

IN_PATHS: Mapping[str, str] = {
    "code": "The record's code.", "item": "The supplier's own code for the item.", "price_id": "The price's `id`.",
    "test_id": "The test's `id`.",
    "key_id": "The key's `id`.", "feed_id": "The feed link's `id`.", "alert_id": "The alert's `id`.",
    "webhook_id": "The webhook's `id`.", "delivery_id": "The message's `id`, its `webhook-id`.",
    "token": "The feed link's token, which is all that opens it: keep the address as you would a key.",
    "table": "A list that the link shows: dish-costs, cut-costs or recipe-costs.",
    "kind": "Of what the figure is: dishes, cuts or recipes.", "figure": "A column of that list: `food_cost`.",
    "proposal_id": "The proposal's `id`.", "business_date": "The business date, as in 2026-11-24."}
"""What the parts of paths are."""


def header_ref(name: str) -> dict[str, str]:
    """A reference to a header field's component."""
    return {"$ref": f"#/components/headers/{name}"}


def problem_response(status: int) -> dict[str, Any]:
    """The response component of a problem status."""
    fields = {name: header_ref(component) for name, component in HEADERS_OF_STATUS.get(status, {}).items()}
    return {"description": REASONS[status], "headers": fields | {"X-Request-ID": header_ref("RequestId")},
            "content": {"application/problem+json": {"schema": "Problem"}}}
