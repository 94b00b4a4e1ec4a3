"""Any list of prices reads back equal, in whatever encoding, delimiter and locale it was written.

Source: the standard library's csv module writes the files (RFC 4180); it is not what is under test.
"""

import csv
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from io import StringIO
from typing import NamedTuple

from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.price_list import PriceRow
from service.domain.supplier_item import Pack
from service.integrations.price_lists.cells import protected
from service.integrations.price_lists.csv_text import DELIMITERS
from service.integrations.price_lists.pack_texts import pack_in_words
from service.integrations.price_lists.reading import read_price_file
from service.integrations.price_lists.written_numbers import other_mark
from tests.integrations.price_lists.tables import NOBODY_SAYS


class Entry(NamedTuple):
    """A row of a list as somebody would write it."""

    item: str
    name: str
    amount: Decimal
    unit: str
    pack: Pack
    gtin: str
    starts: date | None


class Writing(NamedTuple):
    """How a list is written."""

    encoding: str
    delimiter: str
    mark: str
    thousands: bool
    line_end: str
    day: str


# Letters that Windows-1252 has too, so that one list can be written in all encodings; a code has a digit, as codes do.
LETTERS = "abcXYZ äöüéèñçøåß€ ,;|\"'=+-@/.()%&"
NAMES = st.text(LETTERS + "0123456789", max_size=30).map(str.strip)
CODES = st.from_regex(r"[=+\-@']?[A-Z0-9]{0,5}[-./ ]?[0-9]{1,5}", fullmatch=True).map(str.strip)
ENTRIES = st.builds(
    Entry, CODES, NAMES, st.decimals(min_value=0, max_value=Decimal("999999.99"), places=2),
    st.sampled_from(["kg", "g", "l", "each", "pack"]),
    st.builds(Pack, st.sampled_from(["case", "crate", "bag"]), st.integers(1, 99).map(Decimal),
              st.decimals(min_value=Decimal("0.01"), max_value=99, places=2),
                  st.sampled_from(["kg", "g", "l", "each"])),
    st.sampled_from(["", "4006381333931", "96385074"]), st.none() | st.dates(date(2000, 1, 1), date(2099, 12, 31)))
WRITINGS = st.builds(
    Writing, st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]),
        st.sampled_from(DELIMITERS),
    st.sampled_from(".,"), st.booleans(), st.sampled_from(["\r\n", "\n", "\r"]),
        st.sampled_from(["%Y-%m-%d", "%d.%m.%Y"]))


def money(amount: Decimal, writing: Writing) -> str:
    whole, _, decimals = f"{amount:,.2f}".partition(".")
    return whole.replace(",", other_mark(writing.mark) if writing.thousands else "") + writing.mark + decimals


def written(entries: Sequence[Entry], writing: Writing) -> bytes:
    text = StringIO(newline="")
    writer = csv.writer(text, delimiter=writing.delimiter, lineterminator=writing.line_end)
    writer.writerow(["Code", "Name", "Price", "Unit", "Pack", "GTIN", "Valid from"])
    for entry in entries:
        writer.writerow([protected(entry.item), protected(entry.name), money(entry.amount, writing), entry.unit,
                         pack_in_words(entry.pack), entry.gtin,
                             entry.starts.strftime(writing.day) if entry.starts else ""])
    return text.getvalue().encode(writing.encoding)


def as_entry(row: PriceRow) -> Entry:
    assert row.faults == ()
    assert row.amount is not None
    assert row.per_unit is not None
    assert row.pack is not None
    return Entry(row.item, row.name, row.amount, row.per_unit, row.pack, row.gtin, row.starts)


@settings(deadline=None, max_examples=200)
@given(st.lists(ENTRIES, min_size=1, max_size=12), WRITINGS)
def test_a_list_reads_back_equal(entries: list[Entry], writing: Writing) -> None:
    found = read_price_file(written(entries, writing), NOBODY_SAYS)
    assert [as_entry(row) for row in found.rows] == entries
    assert found.layout is not None
    assert (found.layout.delimiter, found.layout.decimal_mark) == (writing.delimiter, writing.mark)


@settings(deadline=None, max_examples=50)
@given(st.lists(ENTRIES, min_size=2, max_size=12), WRITINGS)
def test_the_order_of_rows_changes_nothing_but_the_order(entries: list[Entry], writing: Writing) -> None:
    turned = entries[::-1]
    one = read_price_file(written(entries, writing), NOBODY_SAYS)
    other = read_price_file(written(turned, writing), NOBODY_SAYS)
    assert [as_entry(row) for row in one.rows] == [as_entry(row) for row in other.rows][::-1]
