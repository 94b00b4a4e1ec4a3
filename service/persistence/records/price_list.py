"""What a price list says beside its rows, as JSON: its heading, its charges, and how its table was read."""

from datetime import date
from decimal import Decimal
from typing import Any

from service.domain.price_list import DocumentCharge, FileFormat, Layout, PriceList


def heading(said: PriceList) -> dict[str, Any]:
    """All but the rows, and whether it is complete. Amounts are decimal text with all their zeros."""
    return {
        "format": said.format.value,
        "reference": said.reference,
        "supplier_name": said.supplier_name,
        "currency": said.currency,
        "issued_on": said.issued_on,
        "starts": said.starts,
        "ends": said.ends,
        "charges": [(charge.reason, str(charge.amount)) for charge in said.charges],
        "layout": said.layout and layout_parts(said.layout),
    }


def list_said(parts: dict[str, Any], complete: bool) -> PriceList:
    """The price list of a heading, without its rows."""
    return PriceList(
        format=FileFormat(parts["format"]),
        rows=(),
        reference=parts["reference"],
        supplier_name=parts["supplier_name"],
        currency=parts["currency"],
        issued_on=_day(parts["issued_on"]),
        starts=_day(parts["starts"]),
        ends=_day(parts["ends"]),
        complete=complete,
        charges=tuple(DocumentCharge(reason, Decimal(amount)) for reason, amount in parts["charges"]),
        layout=parts["layout"] and layout(parts["layout"]),
    )


def layout_parts(said: Layout) -> dict[str, Any]:
    return {
        "columns": said.columns,
        "header_line": said.header_line,
        "decimal_mark": said.decimal_mark,
        "delimiter": said.delimiter,
        "encoding": said.encoding,
        "sheet": said.sheet,
    }


def layout(parts: dict[str, Any]) -> Layout:
    return Layout(
        columns=tuple((means, header) for means, header in parts["columns"]),
        header_line=parts["header_line"],
        decimal_mark=parts["decimal_mark"],
        delimiter=parts["delimiter"],
        encoding=parts["encoding"],
        sheet=parts["sheet"],
    )


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)
