"""What helps to read and to fill in a sheet: filters, colours that say something, checks of what is typed, print."""

from xlsxwriter.worksheet import Worksheet

from service.domain.live_table import FIRST_ROW, Band, Entry, Form, Table
from service.integrations.workbook.formats import Formats

A4 = 9
_NUMBER_WANTED = {"validate": "decimal", "criteria": ">=", "value": 0, "ignore_blank": True,
                  "error_title": "No number", "error_message": "Give a number, zero or above; empty is not known."}
_WORDS = {"state": ("complete", "incomplete"), "within": ("yes", "no")}


def add_reading_aids(table: Table, sheet: Worksheet, formats: Formats) -> None:
    """Filters on the headers, what is typed held to numbers, and #N/A, status and target told by colour."""
    first, last, right = FIRST_ROW - 1, FIRST_ROW + len(table.rows) - 2, len(table.columns) - 1
    if last < first:
        return
    if table.columns[0].header:
        sheet.autofilter(first - 1, 0, last, right)
    sheet.conditional_format(first, 0, last, right, {"type": "errors", "format": formats.not_known})
    for place, column in enumerate(table.columns):
        good, bad = _WORDS.get(column.key, ("", "")) if column.form is Form.TEXT else ("", "")
        for word, look in ((good, formats.good), (bad, formats.bad)):
            if word:
                sheet.conditional_format(first, place, last, place, {
                    "type": "cell", "criteria": "==", "value": f'"{word}"', "format": look})
        if column.band is Band.ENTRIES:
            _hold_to_what_fits(table, sheet, place, column.key)


def lay_out_for_print(table: Table, ranking: Table, sheet: Worksheet, footer: str) -> None:
    """On A4, one page wide, headers on each page; of a sheet with published figures, without the working."""
    sheet.set_landscape()
    sheet.set_paper(A4)
    sheet.set_margins(left=0.4, right=0.4, top=0.5, bottom=0.6)
    sheet.fit_to_pages(1, 0)
    sheet.set_footer(f"&L{footer}&C&A&RPage &P of &N")
    if table.columns[0].header:
        sheet.repeat_rows(FIRST_ROW - 2)
    if table is not ranking:
        sheet.print_area(0, 0, max(FIRST_ROW + len(table.rows) - 2, FIRST_ROW - 2), _last_printed(table))


def _last_printed(table: Table) -> int:
    """The last column that is printed: of published figures; with none, of all but what is missing and codes."""
    published = [place for place, column in enumerate(table.columns) if column.band is Band.PUBLISHED]
    kept = [place for place, column in enumerate(table.columns) if column.key not in ("missing", "code")]
    return (published or kept)[-1]


def _hold_to_what_fits(table: Table, sheet: Worksheet, place: int, key: str) -> None:
    first = FIRST_ROW - 1
    entries = [row.get(key) for row in table.rows]
    if not any(isinstance(entry, Entry) and entry.choices for entry in entries):
        sheet.data_validation(first, place, first + len(entries) - 1, place, _NUMBER_WANTED)
        return
    for row, entry in enumerate(entries, first):
        if isinstance(entry, Entry):
            listed = {"validate": "list", "source": list(entry.choices)} if entry.choices else _NUMBER_WANTED
            sheet.data_validation(row, place, row, place, listed)
