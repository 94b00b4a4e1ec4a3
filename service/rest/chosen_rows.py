"""Which rows of a list of costs a request asks for, and which members of each.

A filter holds a row that has one of its values; a code that nothing has is simply not there, since dishes come onto the
menu and leave it by date, and a till that names its own must not be refused at midnight. What is not known is neither
within the target nor outside it.
"""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.use_cases.documents import Document

_MEMBERS = {"pos_codes": "pos_code", "section": "section", "within_target": "within_target", "breakdown": "breakdown"}
FILTERS = ("codes", *_MEMBERS)


@dataclass(frozen=True, slots=True)
class Chosen:
    """What is asked of a list. `mark` is its part in a tag: two requests that may be answered otherwise differ in it.

    Shape:   `wanted` has the values of a member that hold a row; `members` None: the whole row.
    """

    wanted: Sequence[tuple[str, frozenset[Any]]]
    members: tuple[str, ...] | None
    mark: str

    def of(self, rows: Sequence[Document]) -> Sequence[Document]:
        """The rows asked for."""
        for member, values in self.wanted:
            rows = [row for row in rows if row.get(member) in values]
        return rows

    def shown(self, rows: Iterable[Document]) -> list[Document]:
        """Of each row what is asked for."""
        if self.members is None:
            return list(rows)
        return [{name: row[name] for name in self.members if name in row} for row in rows]


def chosen(code: str, query: Mapping[str, Any], asked: bytes) -> Chosen | None:
    """What a request asks of a list; None: nothing in particular. `code` is what the list calls a row's code.

    The mark is made of the query as it came (`asked`), since cursors and the Link field repeat it.
    """
    members = query.get("only_fields")
    wanted = [(_MEMBERS.get(name, code), _values(query[name])) for name in FILTERS if name in query]
    if not wanted and members is None:
        return None
    return Chosen(wanted, members, hashlib.sha256(asked).hexdigest()[:24])


def _values(given: Any) -> frozenset[Any]:
    return frozenset(given if isinstance(given, tuple) else (given,))
