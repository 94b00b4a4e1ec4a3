"""Amounts as people write them in ten locales, and what is no amount.

Source: CLDR 46, "Number Patterns" and "Symbols" of each locale, for which sign parts thousands and decimals (from
memory of its charts); ISO 4217 for codes.
"""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.integrations.price_lists.amounts import Amount, marks_told, of_number, read_amounts, taken_apart
from service.integrations.price_lists.written_numbers import other_mark, telling_mark, value_of
from tests.integrations.price_lists.tables import a_row, prices, said

NO_BREAK, NARROW, THIN = "\u00a0", "\u202f", "\u2009"
LOCALES = {
    "en": ("1,234.50", "."), "de": ("1.234,50", ","), "fr": (f"1{NARROW}234,50", ","), "es": ("1.234,50", ","),
    "it": ("1.234,50", ","), "nl": ("1.234,50", ","), "pt-PT": (f"1{NO_BREAK}234,50", ","), "da": ("1.234,50", ","),
    "sv": (f"1{NO_BREAK}234,50", ","), "nb": (f"1{NO_BREAK}234,50", ","), "de-CH": ("1\u2019234.50", "."),
    "de-CH, typed": ("1'234.50", "."), "de-AT": (f"1{NO_BREAK}234,50", ","), "fi": (f"1{THIN}234,50", ","),
    "en, bare": ("1234.50", "."), "de, bare": ("1234,50", ","),
}


def read(text: str, mark: str) -> Amount:
    """One text, read with that decimal mark."""
    return read_amounts(taken_apart([text]), mark)[text]


@pytest.mark.parametrize("locale", LOCALES)
def test_an_amount_reads_as_its_locale_writes_it(locale: str) -> None:
    text, mark = LOCALES[locale]
    assert telling_mark(text) == mark
    assert value_of(text, mark) == Decimal("1234.50")
    assert prices(text)[0].amount == Decimal("1234.50")


@pytest.mark.parametrize(("text", "mark"), [
    ("14,20", ","), ("14.2", "."), ("1.234.567", ","), ("1,234,567", "."), ("0.125", "."), ("0,125", ","),
    (".125", "."),
    ("1234.567", "."), ("01.234", "."), ("1 234,567", ","), ("1'234.567", "."), ("1.2345", "."), ("1.234", ""),
    ("12,345", ""),
    ("999.999", ""), ("12", ""), ("1234567", ""),
])
def test_what_a_number_gives_away(text: str, mark: str) -> None:
    assert telling_mark(text) == mark


def test_the_mark_is_decided_for_the_column_and_never_per_cell() -> None:
    one, two, three, four = prices("14,20", "1.234", "9,99", "3.50")
    assert (one.amount, three.amount) == (Decimal("14.20"), Decimal("9.99"))
    assert said(two, "amount", "other_amount") == (Decimal(1234), Decimal("1.234"))
    assert four.amount is None
    assert "does not read with a decimal comma" in four.faults[0].detail


def test_what_reads_both_ways_says_so_with_a_point_too() -> None:
    assert said(prices("14.20", "1.234")[1], "amount", "other_amount") == (Decimal("1.234"), Decimal(1234))
    assert said(prices("14.20", "1,234")[1], "amount", "other_amount") == (Decimal(1234), Decimal("1.234"))
    assert said(prices("14.20", "12.340")[1], "amount", "other_amount") == (Decimal("12.340"), Decimal(12340))
    assert prices("14.20")[0].other_amount is None


def test_the_more_cells_that_tell_decide() -> None:
    assert [row.amount for row in prices("1,50", "2,50", "3.50")] == [Decimal("1.50"), Decimal("2.50"), None]
    assert [row.amount for row in prices("1,50", "2.50", "3.50")] == [None, Decimal("2.50"), Decimal("3.50")]
    assert marks_told(taken_apart(times := {"1,5": 3, "2.5": 2, "7": 9}), times) == {",": 3, ".": 2}


@pytest.mark.parametrize(("text", "amount", "currency", "unit"), [
    ("€ 14,20", "14.20", "EUR", None), ("14,20 €", "14.20", "EUR", None), ("14,20€", "14.20", "EUR", None),
    ("EUR 14,20", "14.20", "EUR", None), ("14.20 GBP", "14.20", "GBP", None), ("\u00a314.20", "14.20", "GBP", None),
    ("14,20 €/kg", "14.20", "EUR", "kg"), ("£3.20/kg", "3.20", "GBP", "kg"), ("3.20 per kg", "3.20", "", "kg"),
    ("14,20 EUR pro Stk.", "14.20", "EUR", "each"), ("3,10 \u20ac par bo\u00eete", "3.10", "EUR", "pack"),
    ("$ 4.50", "4.50", "", None), ("US$4.50", "4.50", "USD", None), ("149,- kr", "149", "", None),
    ("kr 149,-", "149", "", None), ("CHF 12.\u2013", "12", "CHF", None), ("149,50 DKK", "149.50", "DKK", None),
    ("R$ 12,90", "12.90", "BRL", None), ("12,90 z\u0142", "12.90", "PLN", None),
])
def test_a_currency_and_a_unit_beside_the_amount(text: str, amount: str, currency: str, unit: str | None) -> None:
    row = prices(text)[0]
    assert row.faults == ()
    assert said(row, "amount", "currency", "per_unit") == (Decimal(amount), currency, unit)


def test_a_shared_sign_takes_the_currency_that_the_list_names() -> None:
    assert a_row("Code;Price;Currency", "1-1;$ 4.50;CAD").currency == "CAD"


def test_a_price_that_says_another_currency_than_its_column_is_a_fault() -> None:
    row = a_row("Code;Price;Currency", "1-1;4.50 GBP;EUR")
    assert [fault.column for fault in row.faults] == ["Currency"]


@pytest.mark.parametrize(("text", "why"), [
    ("-14.20", "below zero"), ("14.20-", "below zero"), ("(14.20)", "below zero"), ("\u221214.20", "below zero"),
    ("\u20ac -14.20", "below zero"), ("12%", "percentage"), ("12 %", "percentage"), ("1.5E3", "exponent"),
    ("1E5", "exponent"), ("1e-5", "exponent"), ("on request", "no amount"), ("auf Anfrage", "no amount"),
    ("NaN", "no amount"),
    ("Infinity", "no amount"), ("1_000", "no amount"), ("+14.20", "no amount"), ("=1+1", "no amount"),
    ("@14", "no amount"),
    ("\u0661\u0664.\u0662\u0660", "no amount"), ("14\u066b20", "no amount"), ("\uff11\uff14", "no amount"),
    ("14.20.1", "read"), ("1,23,456.00", "read"), ("10 2345", "read"), ("14.20 EUR netto", "no amount"),
    ("1234567890123.00", "too many digits"), ("1.1234567", "too many digits"), ("14.", "no amount"),
    ("ca. 14.20", "no amount"),
    ("9" * 4000, "no amount"), ("", "no price"), ("-", "no price"),
])
def test_what_is_no_amount_is_a_fault_of_its_row(text: str, why: str) -> None:
    good, bad = prices("1.50", text)
    assert good.faults == ()
    assert bad.amount is None
    assert (bad.other_amount, len(bad.faults)) == (None, 1)
    assert why in bad.faults[0].detail
    assert bad.faults[0].column == "Price"


def test_zero_is_a_price() -> None:
    assert prices("0.00")[0].amount == 0


@pytest.mark.parametrize(("number", "amount"), [
    ("14.2", "14.2"), ("14.20000049", "14.2"), ("14.2000005", "14.200001"), ("100", "100"), ("0", "0"),
    ("1E+2", "100")])
def test_a_workbook_s_number_is_taken_to_the_millionth(number: str, amount: str) -> None:
    found = of_number(Decimal(number))
    assert (str(found.value), found.fault) == (amount, "")


@pytest.mark.parametrize("number", ["-0.01", "1000000000000", "NaN", "Infinity"])
def test_a_workbook_s_number_may_be_no_price(number: str) -> None:
    found = of_number(Decimal(number))
    assert found.value is None
    assert found.fault


AMOUNTS = st.decimals(min_value=0, max_value=Decimal("999999999999.999999"), places=6)


@given(amount=AMOUNTS, mark=st.sampled_from(".,"), sign=st.sampled_from(["", " ", NO_BREAK, NARROW, "'", "’", "other"]))
def test_any_amount_reads_back_however_its_thousands_are_set_apart(amount: Decimal, mark: str, sign: str) -> None:
    whole, _, decimals = f"{amount:,.6f}".partition(".")
    text = whole.replace(",", other_mark(mark) if sign == "other" else sign) + mark + decimals
    assert value_of(text, mark) == amount
    assert read(text, mark).value == amount


@given(st.text(max_size=100), st.sampled_from(".,"))
def test_no_text_breaks_the_reading_and_no_fault_goes_without_a_sentence(text: str, mark: str) -> None:
    found = read(text, mark)
    assert (found.value is None) == bool(found.fault)
    assert found.value is None or 0 <= found.value < 10 ** 12
