"""Empty price lists to send to a supplier: their items are there, they fill in the prices, and it reads back.

Rules that always hold: what people typed goes out as text, whatever it begins with, and comes back the same; the
headers are words that the reader knows.

Source: RFC 4180; OWASP on CSV injection for text that looks like a formula.
"""

import csv
from collections.abc import Sequence
from datetime import datetime
from io import BytesIO, StringIO

from xlsxwriter import Workbook
from xlsxwriter.worksheet import Worksheet

from service.domain.supplier_item import SupplierItem
from service.integrations.price_lists.cells import protected, protected_in_workbook
from service.integrations.price_lists.pack_texts import pack_in_words

HEADERS = ("Item code", "Name", "Pack", "Priced per", "Price")
NOTE = "Fill in the day from which the prices hold, and the column Price. A price is for what stands under Priced per."
YELLOW = "#FFF2B3"
_WIDTHS = (18, 48, 26, 14, 14)
_HEADER_ROW = 4
_PRICE_COLUMN = HEADERS.index("Price")
_MADE = datetime(2000, 1, 1)  # noqa: DTZ001  # a fixed moment: the same items make the same bytes


def csv_template(items: Sequence[SupplierItem], currency: str) -> bytes:
    """The items as CSV, UTF-8 with its mark, so that spreadsheets show every letter."""
    text = StringIO()
    writer = csv.writer(text)
    blank = [""] * len(HEADERS)
    for cells in ([NOTE], ["Currency", currency], ["Valid from"], []):
        writer.writerow([*cells, *blank[len(cells):]])
    writer.writerow(HEADERS)
    writer.writerows([*map(protected, _cells(item)), ""] for item in items)
    return text.getvalue().encode("utf-8-sig")


def xlsx_template(items: Sequence[SupplierItem], currency: str) -> bytes:
    """The items as a workbook: the column to fill in is yellow, the header stays in sight, the day is a day."""
    target = BytesIO()
    with Workbook(target, {"in_memory": True}) as workbook:
        workbook.set_properties({"created": _MADE})
        bold, fill = workbook.add_format({"bold": True, "bottom": 1}), workbook.add_format({"bg_color": YELLOW})
        day = workbook.add_format({"bg_color": YELLOW, "num_format": "yyyy-mm-dd", "align": "left"})
        sheet = workbook.add_worksheet("Prices")
        sheet.write_string(0, 0, NOTE)
        sheet.write_string(1, 0, "Currency")
        sheet.write_string(1, 1, currency)
        sheet.write_string(2, 0, "Valid from")
        sheet.write_blank(2, 1, None, day)
        for column, (header, width) in enumerate(zip(HEADERS, _WIDTHS, strict=True)):
            sheet.set_column(column, column, width)
            sheet.write_string(_HEADER_ROW, column, header, bold)
        sheet.freeze_panes(_HEADER_ROW + 1, 0)
        _lay_out_for_print(sheet)
        for row, item in enumerate(items, _HEADER_ROW + 1):
            for column, text in enumerate(_cells(item)):
                sheet.write_string(row, column, protected_in_workbook(text))
            sheet.write_blank(row, _PRICE_COLUMN, None, fill)
        _check_what_is_typed(sheet, len(items))
    return target.getvalue()


def _lay_out_for_print(sheet: Worksheet) -> None:
    """All columns on one page's width, the header on each page: some suppliers fill it in by hand."""
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(_HEADER_ROW)


def _check_what_is_typed(sheet: Worksheet, items: int) -> None:
    """Have the spreadsheet say so when a price is no number, or the day no day."""
    sheet.data_validation(2, 1, 2, 1, {
        "validate": "date", "criteria": ">=", "value": _MADE, "error_title": "No day", "error_message": "Give a day."})
    if items:
        sheet.data_validation(_HEADER_ROW + 1, _PRICE_COLUMN, _HEADER_ROW + items, _PRICE_COLUMN, {
            "validate": "decimal", "criteria": ">=", "value": 0, "error_title": "No price",
            "error_message": "Give the price as a number, without its currency."})


def _cells(item: SupplierItem) -> tuple[str, ...]:
    return item.code, item.name, pack_in_words(item.pack), item.priced_per
