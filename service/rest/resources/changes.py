"""The ledger as a feed over HTTP."""

from collections.abc import Mapping
from typing import Any

from service.rest.api_keys import caller, needs
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.schemas.changes import ChangesAnswer, ChangesQuery
from service.use_cases.read_changes import read_changes


def changes(positions: Positions) -> Blueprint:
    """`/v1/changes`."""
    blueprint = Blueprint("changes", "Everything that was ever recorded, in order.", url_prefix="/v1/changes")

    @blueprint.get("")
    @needs("read")
    @blueprint.arguments(ChangesQuery, location="query")
    @blueprint.response(200, ChangesAnswer)
    def list_changes(query: Mapping[str, Any]) -> Any:
        """Read what was recorded since a cursor: who, when, by which request, and what.

        The cursor never expires. Keep `next_cursor` and ask with it again, also when there is nothing new yet.
        """
        head = caller().head
        after = positions.cursors.goes_on_after(query)
        feed = read_changes(positions.ledger, after, query["limit"], head.revision)
        return {"data": feed.data, "revision": head.revision, "more": feed.more,
                "next_cursor": positions.cursors.go_on_from(feed.go_on_from, positions.ledger.today_at(head))}

    return blueprint
