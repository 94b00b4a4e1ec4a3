"""Feed links over HTTP: making, listing and revoking them. What they show is served by feed_files."""

from collections.abc import Mapping
from typing import Any

from service.domain.errors import Refused, WrongValue
from service.rest.answered import answered
from service.rest.api_keys import caller, needs
from service.rest.asking import asker
from service.rest.cost_lists import COST_LISTS
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.schemas.feeds import FeedList, FeedRequest, NewFeedAnswer
from service.use_cases.feed_links import FeedAsked, create_feed, feed_document
from service.use_cases.feed_links import revoke_feed as revoke
from service.use_cases.ports import Ledger

_LISTS = {costs_of.name: costs_of for costs_of in COST_LISTS}


def feeds(ledger: Ledger) -> Blueprint:
    """`/v1/feeds`."""
    blueprint = Blueprint("feeds", "Read-only addresses for programs that cannot send a header.",
                          url_prefix="/v1/feeds")

    @blueprint.get("")
    @needs("feeds:manage")
    @blueprint.response(200, FeedList)
    def list_feeds() -> Any:
        """List every feed link, ended ones too; tokens are not kept."""
        return {"data": [feed_document(link) for link in ledger.feeds.every()]}

    @blueprint.post("")
    @needs("feeds:manage")
    @blueprint.arguments(FeedRequest)
    @blueprint.idempotent
    @blueprint.response(201, NewFeedAnswer)
    def post_feed(body: dict[str, Any]) -> Any:
        """Make a feed link; the answer shows its addresses this once.

        For spreadsheets and other programs that take an address and nothing else. Whoever has the address reads what
        it shows: keep it as you would a key. A link to dish-costs shows what a key with `costs:read` sees. It goes on
        when the key that made it ends.
        """
        return answered(create_feed(ledger, _asked(body), caller().scopes, asker()), secret=True)

    @blueprint.delete("/<code:feed_id>")
    @needs("feeds:manage")
    @blueprint.refuses(404)
    @blueprint.response(204)
    def revoke_feed(feed_id: str) -> None:
        """Revoke a feed link, at once and in every worker."""
        revoke(ledger, feed_id, asker())

    return blueprint


def _asked(body: Mapping[str, Any]) -> FeedAsked:
    lists, fields = tuple(dict.fromkeys(body["lists"])), body.get("fields")
    if fields is not None and len(lists) == 1:
        _hold_to_columns(lists[0], fields)
    expires_at = body.get("expires_at")
    return FeedAsked(body["name"], lists, None if fields is None else tuple(dict.fromkeys(fields)), body["delimiter"],
                     body["decimal"], body["bom"], expires_at, "expires_at" in body and expires_at is None)


def _hold_to_columns(name: str, fields: list[str]) -> None:
    costs_of = _LISTS[name]
    faults = [WrongValue(costs_of.no_such_column(field), f"#/fields/{place}", error_code="unknown-field")
              for place, field in enumerate(fields) if costs_of.column(field) is None]
    if faults:
        raise Refused(faults)
