"""Walking the chain: does every revision follow from the one before, and say what its hash says? And `told`, which
holds the tables beside it to it too.

A chain shows tampering to whoever kept a hash from before it; it cannot show that all of it was written anew. So keep
the head's hash somewhere else from time to time and hand it in as an anchor.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import attrgetter
from typing import Any

from sqlalchemy import Connection, select

from service.persistence.engines import Engines
from service.persistence.hash_chain import GENESIS, RevisionFacts, StoredEntry, revision_hash
from service.persistence.tables import chain
from service.persistence.verifying_tables import astray

_AT_ONCE = 5_000


@dataclass(frozen=True, slots=True)
class ChainBreak:
    """Where the chain does not hold, and what is wrong there. Revision 0 stands for the head row."""

    revision: int
    detail: str


def verify(engines: Engines, anchors: Mapping[int, str] | None = None) -> list[ChainBreak]:
    """Every break of the chain; an empty list says that the ledger is whole.

    Shape:   `anchors` are hashes by revision, noted earlier and kept elsewhere.
    """
    with engines.read() as connection:
        return verify_on(connection, anchors or {})


def told(engines: Engines, anchors: Mapping[int, str], quick: bool, progress: Callable[[str, int], None]
         ) -> Iterator[str]:
    """What is wrong with the chain and, unless `quick`, with the tables beside it; one view of both.

    Raises:  LedgerUnavailable when the database cannot be read, which its damage may be.
    """
    with engines.one_view() as connection:
        yield from told_on(connection, anchors, quick, progress)


def told_on(connection: Connection, anchors: Mapping[int, str], quick: bool,
            progress: Callable[[str, int], None] = lambda _what, _done: None) -> Iterator[str]:
    """The same, on a connection that may hold what is not committed yet."""
    for broken in verify_on(connection, anchors, lambda done: progress("revisions walked", done)):
        yield f"revision {broken.revision}: {broken.detail}."
    if not quick:
        for one in astray(connection, lambda done: progress("rows compared", done)):
            yield f"revision {one.revision}, {one.kind} {one.code}: {one.detail}."


def verify_on(connection: Connection, anchors: Mapping[int, str], progress: Callable[[int], None] = lambda _done: None
              ) -> list[ChainBreak]:
    """The same, on a connection that may hold what is not committed yet."""
    breaks: list[ChainBreak] = []
    previous = _Link(0, GENESIS, date.min)
    figures = previous
    entries = _EntriesInOrder(connection)
    seen = dict(anchors)
    for row in _readable(_streamed(connection, select(chain.revision).order_by(chain.revision.c.number)), breaks):
        breaks += _breaks(row, previous, entries.of(row.number))
        if row.number % _AT_ONCE == 0:
            progress(row.number)
        if row.number in seen and seen.pop(row.number) != row.hash:
            breaks.append(ChainBreak(row.number, "its hash is not the one noted earlier"))
        previous = _Link(row.number, row.hash, row.on_date)
        figures = previous if row.moves_figures else figures
    breaks += [ChainBreak(number, "it was noted earlier and is not there") for number in sorted(seen) if number > 0]
    breaks += entries.left_over()
    return breaks + _head_breaks(connection, previous, figures)


@dataclass(frozen=True, slots=True)
class _Link:
    number: int
    hash: str
    on_date: date


class _EntriesInOrder:
    """The entries, streamed beside the revisions."""

    def __init__(self, connection: Connection) -> None:
        asked = select(chain.entry).order_by(chain.entry.c.revision, chain.entry.c.number)
        self._groups = groupby(_streamed(connection, asked), attrgetter("revision"))
        self._ahead: tuple[int, list[Any]] | None = None
        self._stray: set[int] = set()

    def of(self, revision: int) -> list[StoredEntry]:
        while (group := self._peek()) is not None and group[0] < revision:
            self._stray.add(group[0])
            self._ahead = None
        if group is None or group[0] != revision:
            return []
        self._ahead = None
        return [StoredEntry(row.number, row.action, row.kind, row.code, row.document) for row in group[1]]

    def left_over(self) -> list[ChainBreak]:
        while (group := self._peek()) is not None:
            self._stray.add(group[0])
            self._ahead = None
        return [ChainBreak(revision, "it has entries and is not there") for revision in sorted(self._stray)]

    def _peek(self) -> tuple[int, list[Any]] | None:
        if self._ahead is None:
            group = next(self._groups, None)
            self._ahead = None if group is None else (group[0], list(group[1]))
        return self._ahead


def _breaks(row: Any, previous: _Link, entries: list[StoredEntry]) -> Iterator[ChainBreak]:
    if row.number != previous.number + 1:
        yield ChainBreak(row.number, f"it follows revision {previous.number}")
    if row.previous_hash != previous.hash:
        yield ChainBreak(row.number, "it does not carry the hash of the revision before")
    if row.on_date < previous.on_date:
        yield ChainBreak(row.number, "its business day is before that of the revision before")
    if not entries or [entry.number for entry in entries] != list(range(1, len(entries) + 1)):
        yield ChainBreak(row.number, "its entries are not numbered from 1 without a gap")
    facts = RevisionFacts(
        row.number, row.made_at, row.on_date, row.key_id, row.who, row.request_id, row.moves_figures)
    if revision_hash(row.previous_hash, facts, entries) != row.hash:
        yield ChainBreak(row.number, "its hash is not that of what it says")


def _readable(rows: Iterator[Any], breaks: list[ChainBreak]) -> Iterator[Any]:
    """The rows up to the first that cannot be read: a moment that is none, say."""
    last = 0
    while True:
        try:
            row = next(rows, None)
        except (ValueError, TypeError) as wrong:
            breaks.append(ChainBreak(last + 1, f"from here on revisions cannot be read: {wrong}"))
            return
        if row is None:
            return
        last = row.number
        yield row


def _head_breaks(connection: Connection, last: _Link, figures: _Link) -> list[ChainBreak]:
    head = connection.execute(select(chain.ledger_head)).one_or_none()
    if head is None:
        return [ChainBreak(0, "there is no head")]
    held = (head.revision, head.hash, head.figures_revision, head.figures_hash)
    day_holds = last.number == 0 or head.on_date == last.on_date
    if held != (last.number, last.hash, figures.number, figures.hash) or not day_holds:
        return [ChainBreak(0, f"the head says revision {head.revision}, the chain ends at {last.number}")]
    return []


def _streamed(connection: Connection, asked: Any) -> Iterator[Any]:
    return iter(connection.execution_options(yield_per=_AT_ONCE).execute(asked))
