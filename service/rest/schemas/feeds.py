"""Feed links on the wire."""

from service.rest.fields.choices import Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Whole
from service.rest.fields.texts import Name, Text
from service.rest.fields.times import Moment
from service.rest.openapi_layer.schemas import Answer, Query, Request
from service.use_cases.feed_links import DECIMALS, DELIMITERS, SHOWS

_LISTS, _DELIMITERS, _DECIMALS = tuple(SHOWS), tuple(DELIMITERS), tuple(DECIMALS)


class FeedRequest(Request):
    """A feed link to be made. What it shows and how is fixed here."""

    name = Name(required=True, metadata=says("What it is for: menu sheet, head office's workbook."))
    lists = Several(OneOf(_LISTS), min=1, max=len(_LISTS), required=True, metadata=says(
        "What it shows. Its maker needs the scope `costs:read` for dish-costs, `read` for the others."))
    fields = Several(Text(min=1, max=64), min=1, max=64, allow_none=True, metadata=says(
        "Only these columns, in this order, of the one list; null or left out: all. Single values are held to them "
        "too."))
    delimiter = OneOf(_DELIMITERS, load_default="comma", metadata=says("What stands between the cells of a row."))
    decimal = OneOf(_DECIMALS, load_default="point", metadata=says(
        "The decimal mark of figures; not a comma where the delimiter is one."))
    bom = Flag(load_default=False, metadata=says("Begin with a byte order mark, by which some programs know UTF-8."))
    expires_at = Moment(allow_none=True, metadata=says("Left out: in a year. Null: it does not expire."))


class FeedAnswer(Answer):
    """A feed link, without its token."""

    id = Text(metadata=says("Its public id, by which it is revoked."))
    name = Name(metadata=says("What it is for."))
    lists = Several(OneOf(_LISTS), metadata=says("What it shows."))
    fields = Several(Text(), allow_none=True, metadata=says("Its columns in their order; null: all."))
    delimiter = OneOf(_DELIMITERS, metadata=says("What stands between the cells of a row."))
    decimal = OneOf(_DECIMALS, metadata=says("The decimal mark of figures."))
    bom = Flag(metadata=says("Whether it begins with a byte order mark."))
    made_by = Text(metadata=says("The name of the key that made it."))
    created_at = Moment(metadata=says("When it was made, in UTC."))
    expires_at = Moment(allow_none=True, metadata=says("From when on it shows nothing; null: it does not expire."))
    last_used_at = Moment(allow_none=True, metadata=says("About when it was last read, to the minute; null: never."))
    revoked_at = Moment(allow_none=True, metadata=says("When it was revoked; null: it was not."))


class FeedUrls(Answer):
    """Where a link shows one list. Whoever has the address reads it."""

    list = OneOf(_LISTS, metadata=says("The list."))
    csv = Text(metadata=says("The whole list as a table, on this host."))
    value = Text(metadata=says(
        "A single figure as plain text, on this host: put a code for `{code}` and a column for `{figure}`."))


class NewFeedAnswer(FeedAnswer):
    """A feed link with its token, shown this once."""

    revision = Whole(metadata=says("The revision that made it."))
    token = Text(allow_none=True, metadata=says("What opens it; null in the answer to a repeated request."))
    urls = Several(Group(FeedUrls), allow_none=True, metadata=says(
        "Where each list is; null in the answer to a repeated request."))


class FeedList(Answer):
    """Every feed link."""

    data = Several(Group(FeedAnswer), metadata=says("In the order of making."))


class FeedQuery(Query):
    """How a program that keeps answers is made to ask again."""

    refresh = Text(max=64, metadata=says(
        "Not read: a program that keeps what an address gave asks anew when this changes, such as a time or a count."))
