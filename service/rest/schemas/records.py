"""What the schemas of kept records share: the facts that every answer gives, and making a record of what came in."""

from collections.abc import Mapping
from typing import Any, ClassVar, TypeVar

from service.rest.fields.exact_field import says
from service.rest.fields.groups import Several
from service.rest.fields.numbers import Whole
from service.rest.fields.texts import Code, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer, Query, Request
from service.rest.paging import PageQuery

R = TypeVar("R")
READ_ONLY = ("code", "revision", "version_revision", "in_force_from", "scheduled")


class RecordRequest(Request):
    """A record to be kept: PUT accepts what GET gave, and ignores what only the service can say."""

    READ_ONLY: ClassVar[tuple[str, ...]] = READ_ONLY


class DatedRequest(RecordRequest):
    """A record whose versions are dated."""

    effective_from = Day(metadata=says(
        "The first day on which this holds: today unless given; a first version holds from the beginning unless "
        "it says otherwise."))


class RecordAnswer(Answer):
    """A record as it stands on the day asked for."""

    code = Code(metadata=says("The record's code."))
    revision = Whole(metadata=says("The revision that recorded it last: its tag, for If-Match."))
    version_revision = Whole(metadata=says(
        "The revision that recorded the version shown: another than `revision` while one is scheduled."))
    in_force_from = Day(allow_none=True, metadata=says("The first day of the version shown; null: from the beginning."))
    scheduled = Several(Day(), metadata=says("Days on which later versions start."))


class PositionQuery(Query):
    """As of which day, as known at which revision."""

    as_of = Day(metadata=says("The day the answer is of: the business day today unless given."))
    known_at = Whole(metadata=says("As known at this revision: the head unless given."))


class ListQuery(PositionQuery, PageQuery):
    """A page of a list, as of a day and as known at a revision; a cursor keeps both."""


class RetireQuery(Query):
    """From which day a record is retired."""

    effective_from = Day(metadata=says("The first day without it: today unless given."))


class PageAnswer(Answer):
    """What every list gives beside its rows."""

    revision = Whole(metadata=says("The revision that the rows are of, the same on every page."))
    as_of = Day(metadata=says("The day that the rows are of, the same on every page."))
    next_cursor = Text(allow_none=True, metadata=says("Ask with it for the next page; null: no more."))


def record(kind: type[R], values: Mapping[str, Any]) -> R:
    """A record of the core from loaded values: its lists are tuples, so that equal records are equal."""
    return kind(**{name: tuple(value) if isinstance(value, list) else value for name, value in values.items()})
