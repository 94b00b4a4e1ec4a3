"""The rows of a delimited text, whatever they are of: each with the line that it begins on.

Rules that always hold: quoting is read strictly, so that a quote that is never closed is refused and does not swallow
the table; text is decoded and rows are read a piece at a time, so that memory follows what is kept of them.

Source: RFC 4180 for rows and quotes, with any delimiter.
"""

import csv
from collections.abc import Iterator, Sequence
from io import BytesIO, TextIOWrapper
from itertools import chain, islice

from service.domain.errors import FileTooLarge, UnreadableFile

LONGEST_CELL = 4096
MOST_COLUMNS = 256
LONGEST_LINE = MOST_COLUMNS * LONGEST_CELL
_PIECE = 1 << 18


def opened(content: bytes, encoding: str, bom: int) -> TextIOWrapper:
    """The text of a file, behind its byte order mark."""
    stream = BytesIO(content)
    stream.seek(bom)
    return TextIOWrapper(stream, encoding, newline="")


def delimited_rows(text: TextIOWrapper, delimiter: str, skipped: int = 0) -> Iterator[tuple[int, Sequence[str]]]:
    """The rows with the line that each begins on, but for the first `skipped` lines.

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
            raise FileTooLarge(f"A line has more than {LONGEST_LINE:,} characters: it is no row of such a table.",
                               limit=LONGEST_LINE, counted="characters in a line")
        yield lines


def _too_long_a_cell(line: int) -> FileTooLarge:
    return FileTooLarge(
        f"A cell of the row that begins on line {line} has more than {LONGEST_CELL:,} characters: perhaps a quote is "
        "not closed.", limit=LONGEST_CELL, counted="characters in a cell")
