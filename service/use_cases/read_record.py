"""Read kept records: one, or a list, as they stand on a day and as known at a revision."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from service.domain.errors import NotFound
from service.domain.history import record_on
from service.domain.kitchen import Kitchen
from service.use_cases.documents import Document
from service.use_cases.keep_record import record_document, stands
from service.use_cases.kinds import Kind


@dataclass(frozen=True, slots=True)
class Listed:
    """A page of documents, and the code after which the next page starts (None: this is the last)."""

    data: Sequence[Document]
    next_after: str | None


def read_record(kitchen: Kitchen, kind: Kind, code: str, day: date) -> Document:
    """One record.

    Raises:  NotFound, also when it is retired on that day.
    """
    history = kind.history(kitchen, code)
    if not stands(history, day):
        raise NotFound(f"There is no {kind.called(code)}{' any more; PUT it again to revive it' if history else ''}.")
    return record_document(history, day)


def list_records(kitchen: Kitchen, kind: Kind, day: date, after: str, limit: int) -> Listed:
    """At most `limit` records that stand on `day`, in the order of their codes, after a code."""
    histories = kind.histories(kitchen)
    codes = [code for code in sorted(histories) if code > after and record_on(histories[code], day) is not None]
    page = codes[:limit]
    data = [record_document(histories[code], day) for code in page]
    return Listed(data, page[-1] if len(codes) > limit else None)


def page_by_id(rows: Sequence[Document], after: str, limit: int) -> Listed:
    """The page of rows that follows the row whose `id` is `after`; from the start for ""."""
    start = next((number + 1 for number, row in enumerate(rows) if row["id"] == after), 0) if after else 0
    page = rows[start:start + limit]
    return Listed(page, page[-1]["id"] if start + limit < len(rows) else None)
