"""Sales as CSV: a header of known names, and a line for what the POS sold under a code.

    business_date,pos_code,quantity,net_takings,kind
    2026-11-24,1042,12,219.96,sale

Columns stand in any order; `kind` may be left out (sale), `net_takings` where nothing was taken, and `business_date`
where the request names it. Comma, semicolon or tab, told by the header; the decimal mark is a point, or a comma where
the delimiter is a semicolon, unless it is said. Rules that always hold: nothing is guessed, and no row is left out: a
name that is not known, a number that reads another way and a row of another width are faults, each with its line and
column. Blank rows say nothing.

Source: RFC 4180; ISO 8601-1 for dates.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import NamedTuple
from unicodedata import normalize

from service.domain.business_day import FIRST_DAY, LAST_DAY
from service.domain.errors import FileTooLarge, Refused, UnreadableFile, WrongValue
from service.domain.sales import SaleKind, SalesLine, takings_fault
from service.integrations.delimited.rows import delimited_rows, opened
from service.integrations.delimited.text_encoding import encoding_of
from service.integrations.price_lists.cells import shown, unprotected
from service.use_cases.sales_files import MOST_LINES, HowSalesAreWritten, SentDay

COLUMNS = ("business_date", "pos_code", "quantity", "net_takings", "kind")
DELIMITERS = (",", ";", "\t")
LONGEST_POS_CODE = 64
MOST_FAULTS = 20
_HEAD = 1 << 12
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
_NUMBERS = {mark: re.compile(rf"-?[0-9]{{1,12}}({re.escape(mark)}[0-9]{{1,6}})?", re.ASCII) for mark in ".,"}
_MARK_NAMES = {".": "point", ",": "comma"}
_KINDS = {kind.value: kind for kind in SaleKind} | {"": SaleKind.SALE}


class _Wrong(Exception):
    """One cell that is wrong: its column, and why."""

    def __init__(self, column: str, detail: str) -> None:
        super().__init__(detail)
        self.column, self.detail = column, detail


class _Table(NamedTuple):
    """How the rows of a table are read."""

    header: Sequence[str]
    mark: str
    business_date: date | None


def read_sales_csv(content: bytes, how: HowSalesAreWritten) -> Sequence[SentDay]:
    """The dates of a file, in the order in which they come up.

    Raises:  UnreadableFile, FileTooLarge; Refused with what is wrong, each with its line and column.
    """
    encoding, bom = encoding_of(content)
    delimiter = _delimiter_of(opened(content, encoding, bom).read(_HEAD))
    rows = ((line, row) for line, row in delimited_rows(opened(content, encoding, bom), delimiter)
            if any(cell.strip() for cell in row))
    first = next(rows, None)
    if first is None:
        raise UnreadableFile(f"There is nothing in the file: send a header ({','.join(COLUMNS)}) and a row for each "
                             "code.", why="empty")
    line, header = first
    table = _Table(_names(line, header, how), how.decimal_mark or ("," if delimiter == ";" else "."), how.business_date)
    return _days(rows, table)


def _delimiter_of(head: str) -> str:
    """The one that parts the first line into the most names that are known."""
    first = next((line for line in head.splitlines() if line.strip()), "")
    return max(DELIMITERS, key=lambda mark: len({_name(cell) for cell in first.split(mark)} & {*COLUMNS}))


def _name(cell: str) -> str:
    return cell.strip().strip('"').strip().casefold()


def _names(line: int, header: Sequence[str], how: HowSalesAreWritten) -> Sequence[str]:
    """The names of the columns, in their order.

    Raises:  Refused for names that are not known, stand twice, or are missing.
    """
    names = [_name(cell) for cell in header]
    faults = [_fault(line, name, f"There is no such column here; the columns are {', '.join(COLUMNS)}.")
              for name in names if name not in COLUMNS]
    faults += [_fault(line, name, "The column stands twice; keep one.") for name in COLUMNS if names.count(name) > 1]
    needed = COLUMNS[1:3] if how.business_date is not None else COLUMNS[:3]
    faults += [_fault(line, name, "The header lacks this column.") for name in needed if name not in names]
    if faults:
        raise Refused(faults[:MOST_FAULTS])
    return names


def _days(rows: Iterable[tuple[int, Sequence[str]]], table: _Table) -> Sequence[SentDay]:
    days: dict[date, tuple[int, list[SalesLine]]] = {}
    faults: list[WrongValue] = []
    for number, (line, row) in enumerate(rows, start=1):
        if number > MOST_LINES:
            raise FileTooLarge(f"The file has more than {MOST_LINES:,} rows; send fewer dates at a time.",
                               limit=MOST_LINES, counted="rows")
        try:
            day, sold = _line(row, table)
            days.setdefault(day, (line, []))[1].append(sold)
        except _Wrong as wrong:
            faults.append(_fault(line, wrong.column, wrong.detail))
            if len(faults) == MOST_FAULTS:
                break
    if faults:
        raise Refused(faults)
    if not days:
        raise UnreadableFile("The file has a header and no rows under it. If nothing was sold that day, say so with "
                             "the JSON body {\"lines\": []}.", why="no-rows")
    return [SentDay(day, sold, {"line": line, "column": "business_date"}) for day, (line, sold) in days.items()]


def _line(row: Sequence[str], table: _Table) -> tuple[date, SalesLine]:
    if len(row) != len(table.header):
        raise _Wrong("", f"The row has {len(row)} cells and the header {len(table.header)}: a delimiter too many or "
                     "too few, or a decimal comma that is not in quotes.")
    cells = {name: cell.strip() for name, cell in zip(table.header, row, strict=True)}
    day = _business_date(cells, table.business_date)
    pos_code = _pos_code(cells["pos_code"])
    quantity = _number(cells, "quantity", table.mark)
    if quantity is None:
        raise _Wrong("quantity", "Say how many portions.")
    kind = _KINDS.get(cells.get("kind", "").casefold())
    if kind is None:
        raise _Wrong("kind", f"{shown(cells['kind'])} is none of {', '.join(SaleKind)}.")
    takings = _number(cells, "net_takings", table.mark)
    wrong = takings_fault(kind, takings)
    if wrong is not None:
        raise _Wrong("net_takings", wrong)
    return day, SalesLine(pos_code, quantity, takings or Decimal(0), kind)


def _business_date(cells: Mapping[str, str], named: date | None) -> date:
    text = cells.get("business_date", "")
    if not text and named is not None:
        return named
    try:
        day = date.fromisoformat(text) if _DAY.fullmatch(text) else None
    except ValueError:
        day = None
    if day is None or not FIRST_DAY <= day <= LAST_DAY:
        raise _Wrong("business_date", f"{shown(text)} is no day; write it as in 2026-11-24.")
    if named is not None and day != named:
        raise _Wrong("business_date", f"The row is of {day}, and the request is for {named}: send each date by itself, "
                     "or all of them to /v1/sales.")
    return day


def _pos_code(cell: str) -> str:
    text = normalize("NFC", unprotected(cell)).strip()
    if not text:
        raise _Wrong("pos_code", "Say the code that the POS sold it under.")
    if len(text) > LONGEST_POS_CODE or not text.isprintable():
        raise _Wrong("pos_code", f"{shown(text)} is no code: give at most {LONGEST_POS_CODE} characters, all of which "
                     "can be printed.")
    return text


def _number(cells: Mapping[str, str], column: str, mark: str) -> Decimal | None:
    text = cells.get(column, "")
    if not text:
        return None
    if not _NUMBERS[mark].fullmatch(text):
        other = "." if mark == "," else ","
        hint = (f"; for a decimal {_MARK_NAMES[other]} send the file with decimal={_MARK_NAMES[other]}"
                if _NUMBERS[other].fullmatch(text) else "")
        raise _Wrong(column, f"{shown(text)} is no number as read here: plain digits with a decimal "
                     f"{_MARK_NAMES[mark]}, at most 12 before it and 6 after it, a minus in front where it was taken "
                     f"back{hint}.")
    number = Decimal(text.replace(",", "."))
    return number if number else Decimal(0)


def _fault(line: int, column: str, detail: str) -> WrongValue:
    named = f", {column[:LONGEST_POS_CODE]}" if column else ""
    return WrongValue(f"Line {line}{named}: {detail}", line=line, column=column[:LONGEST_POS_CODE])
