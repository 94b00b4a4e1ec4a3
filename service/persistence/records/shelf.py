"""A shelf: how one kind of record lies in its tables, and how it comes back.

Records point to others by code; the tables by small numbers. `Ids` turns codes into numbers on the way in, `Codes`
numbers into codes on the way out. Both are handed in: nothing here asks the database.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

from sqlalchemy import Table

Codes = Mapping[str, Mapping[int, str]]
"""By identity table: the code of a number."""

Row = Any
Values = dict[str, Any]


class Ids(Protocol):
    """Numbers of codes, on the way in."""

    def of(self, identity: str, code: str | None) -> int | None:
        """The number of what `code` names and must exist; None for None."""

    def every(self, identity: str, codes: Sequence[str]) -> Sequence[int]:
        """The number of each of them, which must all exist."""

    def made(self, identity: str, code: str) -> int:
        """The number of what this record itself brings into being."""


@dataclass(frozen=True)
class Parts:
    """The outputs or lines of a record. `rows` leaves out the marks and positions, `part` takes a row's own columns."""

    table: Table
    rows: Callable[[Any, Ids], list[Values]]
    part: Callable[[Row, Codes], Any]


@dataclass(frozen=True)
class Shelf:
    """One kind of record with versions. `kind` is what its ledger entries are called."""

    kind: str
    identity: Table
    versions: Table
    row: Callable[[Any, Ids], Values]
    record: Callable[[str, Row, tuple[Any, ...], Codes], Any]
    parts: Parts | None = None

    @property
    def identity_column(self) -> str:
        return f"{self.identity.name}_id"


@dataclass
class Numbering:
    """All identities as far as they were read: numbers by code and codes by number, per identity table."""

    ids: dict[str, dict[str, int]] = field(default_factory=dict)
    codes: dict[str, dict[int, str]] = field(default_factory=dict)

    def learn(self, identity: str, number: int, code: str) -> None:
        self.ids.setdefault(identity, {})[code] = number
        self.codes.setdefault(identity, {})[number] = code

    def copied(self) -> "Numbering":
        """The same as known so far, to learn on its own."""
        return Numbering({name: dict(known) for name, known in self.ids.items()},
                         {name: dict(known) for name, known in self.codes.items()})
