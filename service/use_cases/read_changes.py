"""Read the ledger as a feed: every entry since a mark, in the order of commitment, none missing and none twice."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.domain.history import Mark
from service.use_cases.documents import Document, moment
from service.use_cases.ports import Ledger, RecordedEntry

MOST_CHARACTERS = 4_000_000
"""About how long a page may be, however many entries are asked for."""


@dataclass(frozen=True, slots=True)
class Feed:
    """A page of entries, the mark to go on from (also when nothing is new yet), and whether there is more now."""

    data: Sequence[Document]
    go_on_from: Mark
    more: bool


def read_changes(ledger: Ledger, after: Mark, limit: int, up_to: int) -> Feed:
    """At most `limit` entries after a mark, fewer where they are long. The mark of a feed never expires: the ledger is
    kept."""
    page, more = ledger.entry_page(after, limit, up_to, MOST_CHARACTERS)
    return Feed([entry_document(entry) for entry in page], page[-1].mark if page else after, more)


def entry_document(entry: RecordedEntry) -> Document:
    """An entry with who, when and by which request."""
    return {
        "revision": entry.mark.revision,
        "entry": entry.mark.entry,
        "made_at": moment(entry.made_at),
        "on_date": entry.on_date.isoformat(),
        "who": entry.who,
        "key_id": entry.key_id,
        "request_id": entry.request_id,
        "action": entry.action,
        "kind": entry.kind,
        "code": entry.code,
        "record": dict(entry.document),
    }
