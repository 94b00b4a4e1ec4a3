"""A price list or invoice as read from a file: what each row says, before anybody asks what it means in this kitchen.

A row's fault never hides another row: what cannot be read is told on the row, and the row stays. Nothing here depends
on the kitchen; `price_review` holds the rows against it.

Source: UN/ECE Recommendations 20 and 21 for codes of units and packages; EN 16931 for an invoice's terms.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

from service.domain.supplier_item import Pack


class FileFormat(StrEnum):
    """What a file is, told by its content."""

    CSV = "csv"
    XLSX = "xlsx"
    CATALOGUE = "ubl_catalogue"
    INVOICE = "ubl_invoice"


@dataclass(frozen=True, slots=True)
class RowFault:
    """Something in a row that cannot be read: the column (as the file heads it), and a sentence with the mend."""

    column: str
    detail: str


class PriceRow(NamedTuple):
    """One row of a list, or line of an invoice. A named tuple: a list of 100 000 rows is made and kept in little time.

    Shape:   `number` counts the rows from 1; `place` says where a person finds it ("line 14"); `per_unit` is the name
             of a unit, "pack" for the supplier's own pack, or None where the row does not say (`per_unit_text` empty)
             or says it in a word that is not known (`per_unit_text` holds it).
    Units:   `amount` is money for `per_quantity` of `per_unit`. None: it cannot be read, `faults` say why.
             `other_amount` is what the same text gives when its point or comma is read the other way; None: there is
             no other reading. `billed_quantity` is in `per_unit`, of invoices only. `at_least` is the smallest
             quantity for which the price holds (a quantity break); None: any. `ended`: the list says that the
             supplier no longer sells the item.
    """

    number: int
    place: str
    item: str = ""
    gtin: str = ""
    name: str = ""
    amount: Decimal | None = None
    amount_text: str = ""
    other_amount: Decimal | None = None
    currency: str = ""
    per_quantity: Decimal = Decimal(1)
    per_unit: str | None = None
    per_unit_text: str = ""
    pack: Pack | None = None
    starts: date | None = None
    ends: date | None = None
    at_least: Decimal | None = None
    billed_quantity: Decimal | None = None
    line_total: Decimal | None = None
    ended: bool = False
    faults: tuple[RowFault, ...] = ()


@dataclass(frozen=True, slots=True)
class DocumentCharge:
    """What an invoice charges (or allows, below zero) beside its lines, before tax: freight, a deposit, a rebate."""

    reason: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Layout:
    """How a table was read: what a person would have to say if it could not be told, and what is remembered of it.

    Shape:   `columns` maps what a column means (item, name, price, unit, pack, gtin, currency, starts, ends) to its
             header as the file has it; `header_line` counts from 1; `decimal_mark` is "." or ",".
    """

    columns: tuple[tuple[str, str], ...] = ()
    header_line: int = 0
    decimal_mark: str = "."
    delimiter: str = ""
    encoding: str = ""
    sheet: str = ""


@dataclass(frozen=True, slots=True)
class PriceList:
    """All that a file says.

    Shape:   `reference` is the list's or invoice's own number or name; `complete` says that it lists everything that
             the supplier sells (an invoice, or a list of changes, does not); `starts` is when its prices begin as the
             document says: an invoice's delivery date, else its date of issue; None: it does not say.
    """

    format: FileFormat
    rows: tuple[PriceRow, ...]
    reference: str = ""
    supplier_name: str = ""
    currency: str = ""
    issued_on: date | None = None
    starts: date | None = None
    ends: date | None = None
    complete: bool = True
    charges: tuple[DocumentCharge, ...] = ()
    layout: Layout | None = None

    @property
    def is_invoice(self) -> bool:
        return self.format is FileFormat.INVOICE
