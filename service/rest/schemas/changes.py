"""The ledger's feed on the wire."""

import marshmallow as ma

from service.rest.fields.choices import Flag
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Whole
from service.rest.fields.texts import Text
from service.rest.fields.times import Day, Moment
from service.rest.openapi_layer.schemas import Answer, Query
from service.rest.paging import LIMIT, MOST, CursorText


class ChangesQuery(Query):
    """From where on."""

    after = CursorText(metadata=says("`next_cursor` of the page before; from the beginning unless given."))
    limit = Whole(min=1, max=MOST, load_default=LIMIT, metadata=says("How many at most."))


class ChangeAnswer(Answer):
    """One thing that a revision did."""

    revision = Whole(metadata=says("The revision that did it: one accepted request, one revision, without gaps."))
    entry = Whole(min=1, metadata=says("Which of the revision's entries this is, from 1."))
    made_at = Moment(metadata=says("When it was recorded, in UTC."))
    on_date = Day(metadata=says("The business day at its commit."))
    who = Text(metadata=says("The name of the key that asked."))
    key_id = Text(metadata=says("The id of that key; `cli` for the command line."))
    request_id = Text(metadata=says("The request's `X-Request-ID`."))
    action = Text(metadata=says(
        "What was done: keep, retire, record_price, withdraw_price ... More may come; skip those not known."))
    kind = Text(metadata=says("What kind of record: dish, ingredient, price ... More may come."))
    code = Text(metadata=says(
        "The record's code; of a price its ingredient's, of a yield test its breakdown's, of sales their date, of a "
        "key or a margin alert its id, of a supplier's item its supplier's, a slash, and the supplier's own."))
    record = ma.fields.Dict(metadata=says("What was recorded, as it was stored."))


class ChangesAnswer(Answer):
    """A page of the feed. `next_cursor` is always there: ask with it again when there is no more yet."""

    data = Several(Group(ChangeAnswer), metadata=says("In the order of recording."))
    revision = Whole(metadata=says("The head of the ledger."))
    more = Flag(metadata=says("Whether there is more now."))
    next_cursor = Text(metadata=says("Where to go on, as `after`; given on every page."))
