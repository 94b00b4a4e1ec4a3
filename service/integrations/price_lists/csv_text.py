"""Price lists as CSV: their delimiter, and what stands in them.

The delimiter is told once for the file, by the columns that are recognised with it. "sep=;" on the first line is a
spreadsheet's hint.
"""

import csv
import re
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from io import StringIO
from itertools import islice

from service.domain.price_list import FileFormat, PriceList
from service.integrations.delimited.rows import MOST_COLUMNS, delimited_rows, opened
from service.integrations.delimited.text_encoding import encoding_of
from service.integrations.price_lists.table_reading import HEADER_WITHIN, meanings_found, read_table
from service.use_cases.price_files import HowToRead

DELIMITERS = (";", ",", "\t", "|")
_HEAD = 1 << 15
_SAID_DELIMITER = re.compile(r"^sep=([;,\t|])\r?\n", re.IGNORECASE)


def read_csv(content: bytes, how: HowToRead) -> PriceList:
    """What a CSV file says.

    Raises:  UnreadableFile, FileTooLarge, ColumnsNotRecognised.
    """
    encoding, bom = encoding_of(content)
    delimiter, skipped = delimiter_of(opened(content, encoding, bom).read(_HEAD), how)
    rows = delimited_rows(opened(content, encoding, bom), delimiter, skipped)
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
