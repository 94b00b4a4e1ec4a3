"""Read the ledger as a feed: every entry since a mark, in the order of commitment, none missing and none twice."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.domain.history import Mark
from service.use_cases.documents import Document, moment
from service.use_cases.ports import Ledger, RecordedEntry


@dataclass(frozen=True, slots=True)
class Feed:
    """A page of entries, the mark to go on from (also when nothing is new yet), and whether there is more now."""

    data: Sequence[Document]
    go_on_from: Mark
    more: bool


def read_changes(ledger: Ledger, after: Mark, limit: int, up_to: int) -> Feed:
    """At most `limit` entries after a mark. The mark of a feed never expires: the ledger is kept."""
    entries = ledger.entries(after, limit + 1, up_to)
    page = entries[:limit]
    return Feed([entry_document(entry) for entry in page], page[-1].mark if page else after, len(entries) > limit)


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
