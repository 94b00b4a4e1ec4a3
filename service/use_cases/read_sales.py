"""Read sales: of one business date, or of several, as known at a revision."""

from collections.abc import Iterator, Sequence
from datetime import date

from service.domain.errors import NotFound, WrongValue
from service.domain.sales import SalesDay
from service.use_cases.documents import Document
from service.use_cases.ports import Ledger
from service.use_cases.read_record import Listed
from service.use_cases.sales_documents import day_document, heading_document, line_documents

LONGEST_SPAN = 366


def hold_to_days(first: date, last: date) -> None:
    """Hold a period, its first and last day included, to one that goes forward and is at most a year.

    Raises:  WrongValue at `from`.
    """
    days = (last - first).days + 1
    if days < 1:
        raise WrongValue(f"Give a day on or before `to`, which is {last}.", parameter="from")
    if days > LONGEST_SPAN:
        raise WrongValue(f"From {first} to {last} are {days} days; at most {LONGEST_SPAN} are read at once.",
                         parameter="from")


def read_sales_day(ledger: Ledger, business_date: date, known_at: int) -> Document:
    """The sales of a date, line by line.

    Raises:  NotFound.
    """
    found = ledger.sales.days(business_date, business_date, known_at)
    if not found:
        raise NotFound(f"There are no sales of {business_date}.")
    return day_document(found[0])


def list_sales(ledger: Ledger, first: date, last: date, known_at: int, after: str, limit: int) -> Listed:
    """At most `limit` dates with what their sales come to, in their order, after a date."""
    dates = [day for day in ledger.sales.recorded(first, last, known_at) if day.isoformat() > after]
    page = dates[:limit]
    data = [heading_document(day) for day in ledger.sales.days(page[0], page[-1], known_at)] if page else []
    return Listed(data, page[-1].isoformat() if len(dates) > limit else None)


def sales_rows(days: Sequence[SalesDay]) -> Iterator[Document]:
    """Every line with its date, as a table that can be sent again."""
    for day in days:
        for line in line_documents(day.lines):
            yield {"business_date": day.business_date.isoformat()} | line
