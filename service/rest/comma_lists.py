"""Lists in the query, as one parameter: `codes=grilled-cap,beef-pie`.

`codes=grilled-cap&codes=beef-pie` is read as the same, since generated clients write lists so whatever they are told.

Rules that always hold: a list is bounded before its entries are read; every entry that is wrong is told; an empty list
is refused, since some would mean everything by it and others nothing. An entry that has a comma in it stands in double
quotes, and a double quote in it is doubled, as in a line of CSV.

Source: OpenAPI 3.1, parameter styles (`form` without `explode`); RFC 4180 section 2 for the quotes.
"""

import csv
from collections.abc import Iterable
from typing import Any

import marshmallow as ma

from service.rest.fields.choices import OneOf
from service.rest.fields.exact_field import ExactField, shown

MOST = 200
"""More than fit into an address that every server and proxy reads (4 094 bytes here), as codes usually are."""


class CommaList(ExactField):
    """Entries between commas, each read by `inner`; loads a tuple without repetitions."""

    def __init__(self, inner: ExactField, *, most: int = MOST, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.inner, self.most = inner, most

    def read(self, value: Any) -> tuple[Any, ...]:
        entries = self._entries(value)
        if not 1 <= len(entries) <= self.most:
            raise self.refusal("too-many", f"Give 1 to {self.most} entries, with commas between; here are "
                               f"{len(entries)}.")
        read, wrong = [], []
        for entry in entries:
            try:
                read.append(self.inner.read(entry))
            except ma.ValidationError as fault:
                wrong += fault.messages
        if wrong:
            raise ma.ValidationError(wrong)
        return tuple(dict.fromkeys(read))

    def _entries(self, value: Any) -> list[str]:
        try:
            rows = list(csv.reader([value], strict=True)) if isinstance(value, str) else []
        except csv.Error:
            rows = []
        if len(rows) != 1:
            raise self.refusal("not-a-list", "Give entries with commas between them; one that has a comma in it in "
                               "double quotes. Leave the parameter out for all there are.")
        return rows[0]

    def facts(self) -> dict[str, Any]:
        return {"minItems": 1, "maxItems": self.most}


class MemberName(OneOf):
    """The name of a member of an answer."""

    def __init__(self, members: Iterable[str], **kwargs: Any) -> None:
        super().__init__(tuple(members), **kwargs)

    def read(self, value: Any) -> str:
        if value not in self.words:
            raise self.refusal("unknown-field", f"There is no field {shown(value)} here; the fields are "
                               f"{', '.join(sorted(self.words))}.")
        return str(value)


def as_one_parameter(_converter: Any, field: ma.fields.Field[Any], **_options: Any) -> dict[str, Any]:
    """How the API document says that a list is one parameter."""
    return {"style": "form", "explode": False} if isinstance(field, CommaList) else {}
