"""The feed of dish costs over HTTP: which dishes' figures moved since a cursor, and waiting until one does."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from time import monotonic
from typing import Any

from service.domain.errors import NotAllowed, Refused, WrongValue
from service.domain.timeline import MovedBy, Place
from service.rest.api_keys import caller, needs
from service.rest.http_faults import NotAuthenticated
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.components import header_ref
from service.rest.paging import Cursor
from service.rest.position import Positions
from service.rest.schemas.dish_cost_changes import DishCostChangesAnswer, DishCostChangesQuery
from service.use_cases.dish_cost_changes import Asked, ChangePage, GoOn, Within, read_dish_cost_changes
from service.use_cases.figure_timeline import FigureTimeline
from service.use_cases.position import hold_to_days_open
from service.use_cases.waiting import Waiting

LONGEST_LOOK_BACK_SECONDS = 2
"""How long a page is put together before it goes out as far as it is: there is more then."""
COME_BACK_SECONDS = 5
"""What a poller is told who finds no place to wait."""
StillOpens = Callable[[Any], bool]
"""Whether a caller's key or token is still good."""


@dataclass(frozen=True, slots=True)
class _Feed:
    """How a page of the feed is put together, at once or after a wait."""

    positions: Positions
    timeline: FigureTimeline
    waiting: Waiting
    still_opens: StillOpens

    def page(self, since: GoOn | None, limit: int, asked: Asked) -> ChangePage:
        until = monotonic() + LONGEST_LOOK_BACK_SECONDS
        return read_dish_cost_changes(self.timeline, since, asked, limit, lambda: monotonic() > until)

    def page_in_time(self, since: GoOn | None, limit: int, asked: Asked, seconds: int
                     ) -> tuple[ChangePage, Asked, dict[str, str]]:
        """A page; while it is empty, after a wait, or with Retry-After where there is no place to wait."""
        found, until = self.page(since, limit, asked), monotonic() + seconds
        with self.waiting.place() as taken:
            while seconds and not found.data and not found.more:
                if not taken:
                    return found, asked, {"Retry-After": str(COME_BACK_SECONDS)}
                if not self.waiting.until_moved((asked.head.revision, asked.today), until - monotonic()):
                    break
                asked = _asked(self.positions, self.positions.ledger.head())
                if not self.still_opens(caller()):
                    raise NotAuthenticated("The key or token was good when the wait began, and is not any more.")
                found = self.page(found.go_on, limit, asked)
        return found, asked, {}


def dish_cost_changes(positions: Positions, timeline: FigureTimeline, waiting: Waiting, still_opens: StillOpens
                      ) -> Blueprint:
    """`/v1/dish-costs/changes`."""
    blueprint = Blueprint("dish-cost-changes", "Which dishes' figures moved, from what to what, and why.",
                          url_prefix="/v1/dish-costs/changes")
    feed = _Feed(positions, timeline, waiting, still_opens)

    @blueprint.get("")
    @needs("costs:read")
    @blueprint.arguments(DishCostChangesQuery, location="query")
    @blueprint.response(200, DishCostChangesAnswer, headers={"Retry-After": header_ref("RetryAfter")})
    def list_dish_cost_changes(query: Mapping[str, Any]) -> Any:
        """Read which dishes' figures moved since a cursor: each with its figures before and after, and why.

        Who takes every change in order holds what a full read gives. Begin without `after`, and the whole menu comes
        onto the feed first; or where a full read stood, by its `revision` and `as_of`. What comes into force at
        midnight is told like everything else. Keep `next_cursor` and ask with it again: it never expires.

        With `wait` the answer is held until something moves or the time is up. Only so many may wait at once: beyond
        that the answer comes at once, with Retry-After.
        """
        asked = _asked(positions, caller().head)
        found, asked, fields = feed.page_in_time(_since(positions, query, asked), query["limit"], asked, query["wait"])
        return {
            "data": found.data, "revision": asked.head.figures_revision, "as_of": asked.today.isoformat(),
            "more": found.more, "next_cursor": positions.cursors.go_on_with(_cursor(found.go_on))}, 200, fields

    return blueprint


def _asked(positions: Positions, head: Any) -> Asked:
    return Asked(head, positions.ledger.today_at(head), "read" not in caller().scopes)


def _since(positions: Positions, query: Mapping[str, Any], asked: Asked) -> GoOn | None:
    """Where the request goes on, or begins.

    Raises:  WrongCursor; Refused for a beginning that is told by half, twice, or is not there yet; NotAllowed.
    """
    cursor = positions.cursors.after(query)
    named = {name: query[name] for name in ("from_revision", "from_date") if name in query}
    if not named:
        return None if cursor is None else _go_on(cursor)
    if cursor is not None:
        raise Refused([WrongValue(f"`after` says where to go on: leave {name} out.", parameter=name) for name in named])
    if len(named) == 1:
        missing = "from_date" if "from_revision" in named else "from_revision"
        raise Refused([WrongValue("Give from_revision and from_date together: the `revision` and `as_of` of a full "
                                  "read.", parameter=missing)])
    return GoOn(_begun(positions, Place(named["from_revision"], named["from_date"]), asked))


def _begun(positions: Positions, place: Place, asked: Asked) -> Place:
    if place.revision > asked.head.revision:
        raise WrongValue(f"The ledger is at revision {asked.head.revision}; nothing is known at a later one.",
                         parameter="from_revision")
    if place.day > asked.today:
        raise WrongValue(f"Today is {asked.today}; the feed has not got to a later day.", parameter="from_date")
    hold_to_days_open(place.day, asked.today, asked.costs_only)
    revision, _ = positions.ledger.figures_at(place.revision)
    if asked.costs_only and revision < positions.ledger.figures_before(place.day):
        raise NotAllowed("A key with costs:read alone begins where its own full read stood, not at what was known "
                         "earlier; ask with a key that has the scope read.", scope="read")
    return Place(revision, place.day)


def _cursor(go_on: GoOn) -> Cursor:
    within = go_on.within
    return Cursor(go_on.place.revision, go_on.place.day, None if within is None else [
        within.place.revision, within.place.day.isoformat(), within.moved_by.value, within.dish])


def _go_on(cursor: Cursor) -> GoOn:
    place = Place(cursor.revision, cursor.as_of)
    if cursor.position is None:
        return GoOn(place)
    revision, day, moved_by, dish = cursor.position
    return GoOn(place, Within(Place(revision, date.fromisoformat(day)), MovedBy(moved_by), dish))
