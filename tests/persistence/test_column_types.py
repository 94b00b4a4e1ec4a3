"""What a column takes, it gives back to the digit; what does not fit is refused."""

from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import Column, MetaData, Table, insert, select, text
from sqlalchemy.exc import DatabaseError

from service.domain.supplier import Supplier
from service.persistence.column_types import (
    AmountDoesNotFit,
    Instant,
    JsonText,
    all_to_millionths,
    from_millionths,
    to_millionths,
)
from tests.builders import a_price, a_primal
from tests.persistence.guards import take_guards_away
from tests.persistence.writing import record

ANY_AMOUNTS = st.lists(st.none() | st.decimals(places=6, min_value=-(10**12), max_value=10**12) | st.decimals(
    allow_nan=True, allow_infinity=True) | st.sampled_from([Decimal("sNaN"), Decimal("1E+999999"), 14]), max_size=4)


@given(ANY_AMOUNTS)
def test_many_amounts_are_taken_or_refused_as_one_by_one(amounts):
    try:
        one_by_one = [None if amount is None else to_millionths(amount) for amount in amounts]
    except AmountDoesNotFit:
        with pytest.raises(AmountDoesNotFit):
            all_to_millionths(amounts)
    else:
        assert all_to_millionths(amounts) == one_by_one


@given(st.integers(-(10**18) + 1, 10**18 - 1))
def test_every_amount_that_fits_comes_back_exactly(whole):
    amount = Decimal(whole).scaleb(-6)
    assert to_millionths(amount) == whole
    assert from_millionths(whole) == amount


@pytest.mark.parametrize("text", ["1000000000000", "-1000000000000", "0.0000001", "1E+12", "1E400", "1E-400", "NaN",
                                  "Infinity", "999999999999.9999999"])
def test_what_does_not_fit_is_refused_never_rounded(text):
    with pytest.raises(AmountDoesNotFit):
        to_millionths(Decimal(text))


@pytest.mark.parametrize("value", [1.5, "14.20", 14])
def test_only_decimals_are_amounts(value):
    with pytest.raises(AmountDoesNotFit):
        to_millionths(value)


@pytest.mark.parametrize(("text", "millionths"), [
    ("14.20", 14_200_000), ("1E+11", 10**17), ("-0", 0), ("0.000001", 1), ("999999999999.999999", 10**18 - 1)])
def test_amounts_in_millionths(text, millionths):
    assert to_millionths(Decimal(text)) == millionths


def test_an_amount_that_does_not_fit_never_reaches_the_database(ledger):
    with pytest.raises(AmountDoesNotFit, match=r"at most|more than"):
        record(ledger, Supplier("fenmoor", "Fenmoor"), a_primal(), a_price("0.0000001"))
    assert ledger.head().revision == 0


@pytest.mark.parametrize("statement", [
    "UPDATE price SET amount = 1000000000000000000",
    "UPDATE price SET amount = -1",
    "UPDATE price SET pack_quantity = 0",
    "UPDATE price SET effective_to = '2025-01-01'",
    "UPDATE price SET withdrawn_reason = 'no entry says so'",
    "UPDATE price SET ingredient_id = 99",
    "UPDATE ingredient_version SET base_unit = 'stone'",
    "UPDATE ingredient_version SET retired = 2",
    "UPDATE ledger_head SET id = 2",
    "UPDATE ledger_head SET hash = 'short'",
])
def test_the_database_itself_holds_what_people_rely_on(ledger, engines, statement):
    record(ledger, Supplier("fenmoor", "Fenmoor"), a_primal(), a_price())
    take_guards_away(engines)
    with pytest.raises(DatabaseError, match=r"(?i)constraint"), engines.write() as connection:
        connection.execute(text(statement))


def test_a_number_column_takes_no_text_and_no_fraction(ledger, engines):
    """STRICT on SQLite; PostgreSQL would round a fraction, so nothing but whole numbers is ever sent."""
    record(ledger, Supplier("fenmoor", "Fenmoor"), a_primal(), a_price())
    take_guards_away(engines)
    for value in ("'dear'", "'NaN'"):
        with pytest.raises(DatabaseError), engines.write() as connection:
            connection.execute(text(f"UPDATE price SET amount = {value}"))


def test_moments_come_back_in_utc_to_the_microsecond(engines):
    table = Table("moments", MetaData(), Column("at", Instant()), Column("listed", JsonText()))
    athens = timezone(timedelta(hours=2))
    given_at = [datetime(2026, 3, 29, 1, 59, 59, 999999, UTC), datetime(2026, 3, 2, 0, 0, tzinfo=athens), None]
    with engines.write() as connection:
        table.create(connection)
        connection.execute(insert(table), [{"at": at, "listed": ("é", 1)} for at in given_at])
        rows = connection.execute(select(table)).all()
    assert [row.at for row in rows] == given_at
    assert rows[1].at.isoformat() == "2026-03-01T22:00:00+00:00"
    assert rows[0].listed == ["é", 1]


def test_days_come_back_as_days(ledger):
    record(ledger, Supplier("fenmoor", "Fenmoor"), start=date(2028, 2, 29))
    assert ledger.kitchen(1).suppliers["fenmoor"][0].effective_from == date(2028, 2, 29)
