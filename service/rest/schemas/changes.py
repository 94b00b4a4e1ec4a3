"""The ledger's feed on the wire."""

import marshmallow as ma

from service.rest.exact_fields import Day, Flag, Group, Moment, Several, Text, Whole
from service.rest.openapi_layer.schemas import Answer, Query
from service.rest.paging import LIMIT, MOST, CursorText


class ChangesQuery(Query):
    """From where on."""

    after = CursorText(metadata={"description": "`next_cursor` of the page before; from the beginning unless given."})
    limit = Whole(min=1, max=MOST, load_default=LIMIT, metadata={"description": "How many at most."})


class ChangeAnswer(Answer):
    """One thing that a revision did."""

    revision = Whole()
    entry = Whole(min=1)
    made_at = Moment()
    on_date = Day(metadata={"description": "The business day at its commit."})
    who = Text()
    key_id = Text()
    request_id = Text()
    action = Text()
    kind = Text()
    code = Text()
    record = ma.fields.Dict(metadata={"description": "What was recorded, as it was stored."})


class ChangesAnswer(Answer):
    """A page of the feed. `next_cursor` is always there: ask with it again when there is no more yet."""

    data = Several(Group(ChangeAnswer))
    revision = Whole(metadata={"description": "The head of the ledger."})
    more = Flag(metadata={"description": "Whether there is more now."})
    next_cursor = Text()
