"""CSV files: their delimiter, and their rows.

Rules that always hold: the delimiter is told once for the file; quoting is read strictly, so that a quote that is never
closed is refused and does not swallow the list; text is decoded and rows are read a piece at a time, so that memory
follows what is kept of them.

Source: RFC 4180 for rows and quotes, with any of four delimiters. "sep=;" on the first line is a spreadsheet's hint.
"""

import csv
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import suppress
from io import BytesIO, StringIO, TextIOWrapper
from itertools import chain, islice

from service.domain.errors import FileTooLarge, UnreadableFile
from service.domain.price_list import FileFormat, PriceList
from service.integrations.price_lists.table_reading import (
    HEADER_WITHIN,
    LONGEST_CELL,
    MOST_COLUMNS,
    meanings_found,
    read_table,
)
from service.integrations.price_lists.text_encoding import encoding_of
from service.use_cases.price_files import HowToRead

DELIMITERS = (";", ",", "\t", "|")
LONGEST_LINE = MOST_COLUMNS * LONGEST_CELL
_PIECE = 1 << 18
_HEAD = 1 << 15
_SAID_DELIMITER = re.compile(r"^sep=([;,\t|])\r?\n", re.IGNORECASE)


def read_csv(content: bytes, how: HowToRead) -> PriceList:
    """What a CSV file says.

    Raises:  UnreadableFile, FileTooLarge, ColumnsNotRecognised.
    """
    encoding, bom = encoding_of(content)
    delimiter, skipped = delimiter_of(_opened(content, encoding, bom).read(_HEAD), how)
    rows = _rows(_opened(content, encoding, bom), delimiter, skipped)
    return read_table(rows, how, FileFormat.CSV, delimiter=delimiter, encoding=encoding)


def delimiter_of(head: str, how: HowToRead) -> tuple[str, int]:
    """The delimiter of a table, and how many lines at its beginning only say so."""
    if said := _SAID_DELIMITER.match(head):
        return said[1], 1
    return max(DELIMITERS, key=lambda delimiter: _likeliness(head, delimiter, how)), 0


def _likeliness(head: str, delimiter: str, how: HowToRead) -> tuple[int, int]:
    """How many columns are recognised with a delimiter, then how many cells stand in rows of the commonest width."""
    rows: list[Sequence[str]] = []
    # The head may end inside quotes, and a wrong delimiter reads what it can: what was read until then tells.
    with suppress(csv.Error):
        rows.extend(islice(filter(any, csv.reader(StringIO(head, newline=""), delimiter=delimiter, strict=True)),
                           HEADER_WITHIN))
    widths = Counter(len(row) for row in rows if 1 < len(row) <= MOST_COLUMNS)
    if not widths:
        return 0, 0
    width, times = widths.most_common(1)[0]
    return meanings_found([row[:MOST_COLUMNS] for row in rows], how), width * times


def _rows(text: TextIOWrapper, delimiter: str, skipped: int) -> Iterator[tuple[int, Sequence[str]]]:
    """The rows with the line that each begins on.

    Raises:  UnreadableFile for quotes that do not match, FileTooLarge for cells and lines that are too long.
    """
    longest = [0]
    lines = islice(chain.from_iterable(_pieces(text, longest)), skipped, None)
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    line = skipped + 1
    try:
        for row in reader:
            following = reader.line_num + skipped + 1
            if (following - line > 1 or longest[0] > LONGEST_CELL) and max(map(len, row), default=0) > LONGEST_CELL:
                raise _too_long_a_cell(line)
            yield line, row
            line = following
    except csv.Error as fault:
        raise _too_long_a_cell(line) if "larger" in str(fault) else UnreadableFile(
            f"The quotes of the row that begins on line {line} do not match: a cell that begins with a quote ends with "
            "one, and a quote inside it is written twice.", why="quotes", line=line) from None


def _pieces(text: TextIOWrapper, longest: list[int]) -> Iterator[Sequence[str]]:
    """The lines of a text, some at a time; `longest` keeps how long the longest of them is.

    Raises:  FileTooLarge for a line that is longer than a row of the longest cells.
    """
    while lines := text.readlines(_PIECE):
        longest[0] = max(map(len, lines))
        if longest[0] > LONGEST_LINE:
            raise FileTooLarge(f"A line has more than {LONGEST_LINE:,} characters: it is no row of a price list.",
                               limit=LONGEST_LINE, counted="characters in a line")
        yield lines


def _too_long_a_cell(line: int) -> FileTooLarge:
    return FileTooLarge(
        f"A cell of the row that begins on line {line} has more than {LONGEST_CELL:,} characters: perhaps a quote is "
        "not closed.", limit=LONGEST_CELL, counted="characters in a cell")


def _opened(content: bytes, encoding: str, bom: int) -> TextIOWrapper:
    stream = BytesIO(content)
    stream.seek(bom)
    return TextIOWrapper(stream, encoding, newline="")
