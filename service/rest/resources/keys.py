"""Access keys over HTTP."""

from typing import Any

from service.rest.answered import answered
from service.rest.api_keys import needs
from service.rest.asking import asker
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.schemas.keys import KeyList, KeyRequest, NewKeyAnswer
from service.use_cases.keys import create_key, key_document
from service.use_cases.keys import revoke_key as revoke
from service.use_cases.ports import Ledger


def keys(ledger: Ledger) -> Blueprint:
    """`/v1/keys`."""
    blueprint = Blueprint("keys", "Who may call, and what for.", url_prefix="/v1/keys")

    @blueprint.get("")
    @needs("admin")
    @blueprint.response(200, KeyList)
    def list_keys() -> Any:
        """List every key, revoked ones too; secrets are not kept."""
        return {"data": [key_document(key) for key in ledger.every_key()]}

    @blueprint.post("")
    @needs("admin")
    @blueprint.arguments(KeyRequest)
    @blueprint.idempotent
    @blueprint.response(201, NewKeyAnswer)
    def post_key(body: dict[str, Any]) -> Any:
        """Make a key; the answer shows it this once."""
        made = create_key(ledger, body["name"], body["scopes"], body.get("expires_at"), asker(),
                          body.get("requests_per_minute"))
        return answered(made, secret=True)

    @blueprint.delete("/<code:key_id>")
    @needs("admin")
    @blueprint.refuses(404)
    @blueprint.response(204)
    def revoke_key(key_id: str) -> None:
        """Revoke a key, at once and in every worker."""
        revoke(ledger, key_id, asker())

    return blueprint
