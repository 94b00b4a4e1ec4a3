"""Sales as documents: their lines as they were sent, and what a day comes to."""

from collections.abc import Sequence
from decimal import Decimal

from service.domain.sales import SaleKind, SalesDay, SalesLine
from service.use_cases.documents import Document, plain


def line_documents(lines: Sequence[SalesLine]) -> list[Document]:
    """The lines, one form for the wire and for the ledger's entries."""
    return [{"pos_code": pos_code, "quantity": plain(quantity), "net_takings": plain(takings), "kind": kind.value}
            for pos_code, quantity, takings, kind in lines]


def totals_document(lines: Sequence[SalesLine]) -> Document:
    """How many lines there are, and what they come to."""
    portions = dict.fromkeys(SaleKind, Decimal(0))
    for line in lines:
        portions[line.kind] += line.quantity
    takings = sum((line.net_takings for line in lines), Decimal(0))
    return {"line_count": len(lines), "sold": plain(portions[SaleKind.SALE]), "comps": plain(portions[SaleKind.COMP]),
            "staff_meals": plain(portions[SaleKind.STAFF_MEAL]), "net_takings": plain(takings)}


def heading_document(day: SalesDay) -> Document:
    """A date's sales without their lines."""
    return {"business_date": day.business_date.isoformat(), "revision": day.made.revision,
            } | totals_document(day.lines)


def day_document(day: SalesDay) -> Document:
    """A date's sales with their lines, as they were sent."""
    return heading_document(day) | {"lines": line_documents(day.lines)}
