"""Rows and headings of price lists come back from the store to the digit, whatever they say."""

from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.domain.price_list import DocumentCharge, FileFormat, Layout, PriceList, PriceRow, RowFault
from service.domain.supplier import Supplier
from service.domain.supplier_item import Pack
from service.persistence.records.price_rows import rows_said, rows_text
from tests.persistence.test_price_proposals import propose
from tests.persistence.writing import record

WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=6)
AMOUNTS = st.decimals(allow_nan=False, allow_infinity=False)
DAYS = st.none() | st.dates()
MAYBE = st.none() | AMOUNTS
PACKS = st.none() | st.builds(Pack, WORDS, AMOUNTS, AMOUNTS, WORDS)
FAULTS = st.lists(st.builds(RowFault, WORDS, WORDS), max_size=2).map(tuple)
ROWS = st.builds(
    PriceRow, st.integers(1, 100_000), WORDS, WORDS, WORDS, WORDS, MAYBE, WORDS, MAYBE, WORDS,
    st.just(Decimal(1)) | AMOUNTS, st.none() | WORDS, WORDS, PACKS, DAYS, DAYS, MAYBE, MAYBE, MAYBE,
    st.booleans(), FAULTS)
LISTS = st.builds(
    PriceList, st.sampled_from(FileFormat), st.just(()), WORDS, WORDS, WORDS, DAYS, DAYS, DAYS, st.booleans(),
    st.lists(st.builds(DocumentCharge, WORDS, AMOUNTS), max_size=2).map(tuple),
    st.none() | st.builds(Layout, st.lists(st.tuples(WORDS, WORDS), max_size=3).map(tuple), st.integers(0, 20),
                          st.sampled_from(".,"), WORDS, WORDS, WORDS))


@pytest.fixture
def suppliers(ledger):
    record(ledger, Supplier("fenmoor", "Fenmoor"))
    return ledger


@given(st.lists(ROWS, min_size=1, max_size=5))
def test_every_row_comes_back_to_the_digit(rows):
    """Also with the zeros that equal decimals may differ by, and from text that PostgreSQL takes."""
    written = rows_text(rows)
    assert repr(rows_said(written)) == repr(rows)
    assert "\x00" not in written


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(said=LISTS, rows=st.lists(ROWS, max_size=3), start=DAYS, spread=st.booleans())
def test_every_draft_comes_back_to_the_digit(suppliers, said, rows, start, spread):
    kept = propose(suppliers, *rows, said=said, effective_from=start, spread_charges=spread)
    assert repr(suppliers.proposal(kept.id)) == repr(kept)
    assert repr(suppliers.proposal_rows(kept.id)) == repr(tuple(rows))


def test_what_every_row_says_is_written_once_and_what_none_fills_not_at_all():
    rows = [PriceRow(number, f"line {number}", item=str(number), currency="GBP", per_unit="kg") for number in (1, 2, 3)]
    assert rows_text(rows) == (
        '{"number":[1,2,3],"place":["line 1","line 2","line 3"],"item":["1","2","3"],"currency":"GBP","per_unit":"kg"}')
    assert rows_said(rows_text(rows)) == rows


def test_a_text_from_before_a_field_was_added_is_read_with_its_usual_value():
    assert rows_said('{"number":[7],"place":["line 9"]}') == [PriceRow(7, "line 9")]
