"""The schemas that resources build on: what comes in, what is asked for in the query, what goes out.

- `Request`: a JSON body. Unknown members are refused by name; members named in `READ_ONLY` (what GET gave and PUT
  ignores) are dropped.
- `Query`: query parameters. An absent one is absent: no null defaults.
- `Answer`: every member is always there (null where unknown), and more may be added later; a `Sparse` one has those
  that were asked for.
"""

from collections.abc import Mapping
from typing import Any, ClassVar

import marshmallow as ma

from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Whole
from service.rest.fields.texts import Text
from service.rest.sentences import NOT_AN_OBJECT, Sentence

STOCK_FIELDS_REFUSED = (ma.fields.Number, ma.fields.Boolean, ma.fields.DateTime, ma.fields.Date, ma.fields.Time,
                        ma.fields.String, ma.fields.Enum, ma.fields.Constant, ma.fields.Raw)


class Request(ma.Schema):
    """A JSON body."""

    IS_REQUEST: ClassVar[bool] = True
    READ_ONLY: ClassVar[tuple[str, ...]] = ()

    class Meta:
        unknown = ma.RAISE

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        names = sorted(field.data_key or name for name, field in self.fields.items())
        self.error_messages = {
            "unknown": Sentence(f"There is no such field here; the fields are {', '.join(names)}.", "unknown-field"),
            "type": NOT_AN_OBJECT}

    @ma.pre_load
    def _leave_out_what_is_read_only(self, data: Any, **_options: Any) -> Any:
        if not self.READ_ONLY or not isinstance(data, Mapping):
            return data
        return {name: value for name, value in data.items() if name not in self.READ_ONLY}


class Query(ma.Schema):
    """Query parameters."""

    IS_QUERY: ClassVar[bool] = True

    class Meta:
        unknown = ma.RAISE


class Answer(ma.Schema):
    """What goes out."""

    IS_ANSWER: ClassVar[bool] = True
    HAS_FURTHER_MEMBERS: ClassVar[bool] = False
    OPTIONAL: ClassVar[tuple[str, ...]] = ()

    class Meta:
        unknown = ma.EXCLUDE

    def on_bind_field(self, field_name: str, field_obj: ma.fields.Field[Any]) -> None:
        """Every member but those named in `OPTIONAL` is given in every answer, so that a client may count on it."""
        field_obj.required = field_name not in self.OPTIONAL


class Sparse(Answer):
    """What goes out where a request says which members it wants: none is sure to be there.

    The document names the parameter by which it was asked for (`x-asked-by`): who does not send it gets the whole.
    """

    ASKED_BY: ClassVar[str] = "fields"

    def on_bind_field(self, field_name: str, field_obj: ma.fields.Field[Any]) -> None:  # noqa: ARG002
        field_obj.required = False


class WholeOrSparse(Group):
    """A row of a list that takes `fields`: the whole answer, or those members of it that were asked for."""

    def __init__(self, whole: type[Answer], sparse: type[Sparse], **kwargs: Any) -> None:
        super().__init__(whole, **kwargs)
        self.sparse = sparse


class FieldFault(Answer):
    """One thing that is wrong: `pointer` into the body, or the `parameter` or `header`."""

    pointer = Text(metadata={"description": "JSON Pointer into the body, as a URI fragment (RFC 6901)."})
    parameter = Text(metadata={"description": "The query or path parameter."})
    header = Text(metadata={"description": "The header field."})
    detail = Text(metadata={"description": "What is wrong, and the mend."})
    code = Text(metadata={"description": "Stable, for programs."})

    HAS_FURTHER_MEMBERS: ClassVar[bool] = True
    OPTIONAL: ClassVar[tuple[str, ...]] = ("pointer", "parameter", "header")


class Problem(Answer):
    """A problem document (RFC 9457). Further members say more by type."""

    type = Text(metadata={"description": "Identifies the kind of problem; its page is at that path.",
                          "format": "uri-reference"})
    title = Text(metadata={"description": "The same for every problem of the type."})
    status = Whole(min=400, max=599, metadata={"description": "The status of the answer."})
    detail = Text(metadata={"description": "What is wrong this time, and the mend."})
    instance = Text(metadata={"description": "The path of the request.", "format": "uri-reference"})
    request_id = Text(metadata={"description": "Under which the request is in the log."})
    errors = Several(Group(FieldFault), metadata={"description": "Everything that is wrong, each with its place."})

    scope = Text(metadata={"description": "403: the scope that the key needs."})
    users = Several(ma.fields.Dict(), metadata={
        "description": "409: what uses the record, each with its `kind`, its `code` and what it `uses`."})
    changes = Several(ma.fields.Dict(), metadata={
        "description": "412: what happened to the record since the tag named: who, when, what."})
    revision = Whole(allow_none=True, metadata={
        "description": "412, 428: the revision that the record is at; null: there is none."})

    HAS_FURTHER_MEMBERS: ClassVar[bool] = True
    OPTIONAL: ClassVar[tuple[str, ...]] = ("errors", "scope", "users", "changes", "revision")

