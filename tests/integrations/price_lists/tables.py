"""Price lists as text, for tests: read as the service reads a file, whole."""

from collections.abc import Sequence
from typing import Any

from service.domain.price_list import PriceList, PriceRow
from service.integrations.price_lists.reading import read_price_file
from service.use_cases.price_files import HowToRead

NOBODY_SAYS = HowToRead({})


def a_list(text: str, encoding: str = "utf-8", how: HowToRead = NOBODY_SAYS) -> PriceList:
    """What a CSV file with that text says."""
    return read_price_file(text.encode(encoding), how)


def a_table(header: str, *rows: str, how: HowToRead = NOBODY_SAYS) -> PriceList:
    """What a CSV file of a header and rows says."""
    return a_list("\r\n".join([header, *rows, ""]), how=how)


def a_row(header: str, row: str) -> PriceRow:
    """The only row of a table."""
    (only,) = a_table(header, row).rows
    return only


def prices(*cells: str, header: str = "Code\tPrice") -> Sequence[PriceRow]:
    """The rows of a list of prices with nothing else, parted by tabs so that any text can stand in a cell."""
    return a_table(header, *(f"{place}-1\t{cell}" for place, cell in enumerate(cells))).rows


def said(row: PriceRow, *names: str) -> tuple[Any, ...]:
    """Some fields of a row."""
    return tuple(getattr(row, name) for name in names)
