"""A table of prices, read: which row is the header, what its columns mean, and what each row says.

Rules that always hold: only the columns that mean something are kept, so that memory follows the rows and not what
else a file holds. Blank rows, headings (one filled cell, no price) and a header that is repeated are passed over; every
other row stays, with its faults. A row with more or fewer cells than the header is a fault of that row, and its price
is not taken: its cells may stand under the wrong headers.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import chain, islice
from operator import itemgetter

from service.domain.errors import FileTooLarge, UnreadableFile
from service.domain.price_list import FileFormat, Layout, PriceList, PriceRow
from service.integrations.delimited.rows import LONGEST_CELL, MOST_COLUMNS
from service.integrations.price_lists.cells import Cell, all_text
from service.integrations.price_lists.headers import Header, best_header, find_header
from service.integrations.price_lists.preamble import Preamble, read_preamble
from service.integrations.price_lists.price_rows import price_rows
from service.integrations.price_lists.table_columns import TableColumns
from service.use_cases.price_files import HowToRead

MOST_ROWS = 100_000
HEADER_WITHIN = 20
"""Rows that are not blank, among which the header is looked for."""


@dataclass(slots=True)
class _Kept:
    """The rows that say something, by the columns that mean something."""

    lines: list[int] = field(default_factory=list)
    cells: list[tuple[Cell, ...]] = field(default_factory=list)
    ragged: dict[int, int] = field(default_factory=dict)
    """How many cells a row has that differs from the header, by its place among the kept."""


def read_table(rows: Iterable[tuple[int, Sequence[Cell]]], how: HowToRead, file_format: FileFormat, *,
               sheet: str = "", delimiter: str = "", encoding: str = "") -> PriceList:
    """What a table says. `rows` are (line or row number, counted from 1; cells), read once and only as far as needed.

    Raises:  ColumnsNotRecognised, FileTooLarge, UnreadableFile for a table without rows.
    """
    rows = iter(rows)
    first = _first_rows(islice(rows, MOST_ROWS))
    header = find_header([cells for _, cells in first], how)
    before, after = first[:header.place], first[header.place + 1:]
    kept = _kept(chain(after, islice(rows, MOST_ROWS - len(after))), header)
    if next(rows, None) is not None or len(kept.lines) > MOST_ROWS:
        raise FileTooLarge(f"The table has more than {MOST_ROWS:,} rows: split it.", limit=MOST_ROWS, counted="rows")
    if not kept.cells:
        raise UnreadableFile("No row below the header says anything: send the list with its rows.", why="empty")
    if file_format is not FileFormat.CSV:
        _check_lengths(kept)
    preamble = read_preamble([cells for _, cells in before])
    cells = dict(zip(header.columns, zip(*kept.cells, strict=True), strict=True))
    table = TableColumns(
        len(kept.lines), cells, {meaning: header.title(meaning) for meaning in cells},
        header.price.currency or preamble.currency, _mark_known(how, delimiter))
    word = "row" if file_format is FileFormat.XLSX else "line"
    places = [f"{word} {line}" for line in kept.lines]
    found, mark = price_rows(table, places, kept.ragged, len(header.titles), header.price.per)
    layout = Layout(_named(header), first[header.place][0], mark, delimiter, encoding, sheet)
    return _price_list(file_format, found, preamble, table.currency, layout)


def _mark_known(how: HowToRead, delimiter: str) -> str:
    """The decimal mark to take where no number of the table tells: last time's, else what goes with the delimiter.

    A workbook's numbers have none: what is remembered of one says nothing.
    """
    if how.remembered is not None and how.remembered.delimiter:
        return how.remembered.decimal_mark
    return "," if delimiter == ";" else ""


def looks_like_prices(first_rows: Sequence[Sequence[Cell]], how: HowToRead) -> bool:
    """Whether a header is recognised among the first rows of a sheet: so that the sheet to read can be told."""
    header = best_header(first_rows[:HEADER_WITHIN], how)
    return header is not None and header.is_enough


def meanings_found(first_rows: Sequence[Sequence[Cell]], how: HowToRead) -> int:
    """How many columns are recognised in the most likely header among the first rows."""
    header = best_header(first_rows[:HEADER_WITHIN], how)
    return len(header.columns) if header is not None else 0


def _first_rows(rows: Iterable[tuple[int, Sequence[Cell]]]) -> list[tuple[int, Sequence[Cell]]]:
    """The first rows that are not blank."""
    first: list[tuple[int, Sequence[Cell]]] = []
    for line, cells in rows:
        _check_width(line, cells)
        if any(map(_is_filled, cells)):
            first.append((line, cells))
            if len(first) == HEADER_WITHIN:
                break
    if not first:
        raise UnreadableFile("There is nothing in it: send the price list with its header row.", why="empty")
    return first


def _kept(rows: Iterable[tuple[int, Sequence[Cell]]], header: Header) -> _Kept:
    """The rows below the header that say something."""
    kept, width, at_price = _Kept(), len(header.titles), header.columns["price"]
    price_title = header.titles[at_price]
    pick, lines, keep = _picker(tuple(header.columns.values())), kept.lines, kept.cells
    for line, cells in rows:
        if len(cells) != width or not (price := cells[at_price]) or price == price_title or (
                price.__class__ is str and price.isspace()):
            whole = _looked_at(line, cells, header, kept)
            if whole is None:
                continue
            cells = whole
        lines.append(line)
        keep.append(pick(cells))
    return kept


def _looked_at(line: int, cells: Sequence[Cell], header: Header, kept: _Kept) -> Sequence[Cell] | None:
    """A row that is not like the others, filled up to the header's width; None: it says nothing."""
    _check_width(line, cells)
    filled = list(islice((place for place, cell in enumerate(cells) if _is_filled(cell)), 2))
    if not filled or (len(filled) == 1 and _is_heading(filled[0], cells, header)) or _is_header_again(cells, header):
        return None
    width = len(header.titles)
    least = max(place for place, title in enumerate(header.titles) if title) + 1
    if len(cells) < least or any(map(_is_filled, cells[width:])):
        kept.ragged[len(kept.lines)] = len(cells)
    return [*cells[:width], *[""] * (width - len(cells))]


def _is_heading(place: int, cells: Sequence[Cell], header: Header) -> bool:
    """Whether a row's only filled cell heads the rows below it ("BEEF"): no price, no GTIN, and no code of an item."""
    if place in (header.columns["price"], header.columns.get("gtin")):
        return False
    text = str(cells[place])
    is_code = any(map(str.isdigit, text)) and (" " not in text.strip() or not any(map(str.isalpha, text)))
    return not (is_code and place == header.columns.get("item"))


def _is_header_again(cells: Sequence[Cell], header: Header) -> bool:
    """Whether a row repeats the header, as lists do at the top of each printed page."""
    places = header.columns.values()
    return max(places) < len(cells) and all(str(cells[place]).strip() == header.titles[place] for place in places)


def _picker(places: Sequence[int]) -> Callable[[Sequence[Cell]], tuple[Cell, ...]]:
    """Takes the columns that mean something out of a row: a price and what names it, so two at least."""
    return itemgetter(*places)


def _check_width(line: int, cells: Sequence[Cell]) -> None:
    if len(cells) > MOST_COLUMNS:
        raise FileTooLarge(f"Line {line} has {len(cells):,} columns; up to {MOST_COLUMNS} are read. Delete the empty "
                           "ones, or send the table alone.", limit=MOST_COLUMNS, counted="columns")


def _check_lengths(kept: _Kept) -> None:
    """Hold every kept cell to its length. Those of CSV were held to it as they were read."""
    for column in zip(*kept.cells, strict=True):
        if max(map(len, column if all_text(column) else map(str, column))) > LONGEST_CELL:
            line = next(line for line, cell in zip(kept.lines, column, strict=True) if len(str(cell)) > LONGEST_CELL)
            raise FileTooLarge(f"A cell of line {line} has more than {LONGEST_CELL:,} characters: none is so long.",
                               limit=LONGEST_CELL, counted="characters in a cell")


def _is_filled(cell: Cell) -> bool:
    return cell is not None and not (isinstance(cell, str) and not cell.strip())


def _named(header: Header) -> tuple[tuple[str, str], ...]:
    """What each column means, in the order of the table."""
    in_order = sorted(header.columns, key=lambda meaning: header.columns[meaning])
    return tuple((meaning, header.title(meaning)) for meaning in in_order)


def _price_list(file_format: FileFormat, rows: tuple[PriceRow, ...], preamble: Preamble, currency: str, layout: Layout
                ) -> PriceList:
    named = {row.currency for row in rows}
    unanimous = named.pop() if len(named) == 1 else ""
    return PriceList(file_format, rows, reference=preamble.reference, supplier_name=preamble.supplier,
                     currency=currency or unanimous, issued_on=preamble.issued, starts=preamble.starts,
                     ends=preamble.ends, layout=layout)
