"""Days as people write them, and when a day is not for sure.

Source: CLDR 46 date patterns of each locale (from memory of its charts); ISO 8601-1 for the first form.
"""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.integrations.price_lists.date_texts import day_in, read_days
from tests.integrations.price_lists.tables import a_row, a_table, said

FIRST = date(2026, 12, 1)
SURE = ["2026-12-01", "2026-12-01 00:00:00", "2026-12-01T00:00:00", "01.12.2026", "1.12.2026", "1. 12. 2026",
    "01.12.26",
        "1 December 2026", "1 Dec 2026", "1st December 2026", "December 1, 2026", "1. Dezember 2026", "1. Dez. 2026",
        "1er d\u00e9cembre 2026", "1 d\u00e9c. 2026", "1 de diciembre de 2026", "1 dicembre 2026", "1 december 2026",
        "1 de dezembro de 2026", "1. december 2026", "1 dec. 2026", "1. desember 2026", "01-Dec-26"]


@pytest.mark.parametrize("text", SURE)
def test_a_day_that_tells_itself(text: str) -> None:
    assert day_in(text) == FIRST


@pytest.mark.parametrize("text",
    ["01/12/2026", "1-12-26", "12/01/26", "30.02.2026", "2026-13-01", "1 Smarch 2026", "soon", "",
                                  "46357", "1.12", "\u0661.12.2026", "2026-12-01 08:30", "9" * 5000, "13/13/2026"])
def test_a_day_that_is_none_or_could_be_two(text: str) -> None:
    assert day_in(text) is None


def test_one_day_above_the_twelfth_tells_for_the_whole_column() -> None:
    assert read_days(["01/12/2026", "31/12/2026"], None)["01/12/2026"] == FIRST
    assert read_days(["12/01/2026", "12/31/2026"], None)["12/01/2026"] == FIRST
    assert read_days(["01/12/2026", "31/12/2026", "12/31/2026"], True)["01/12/2026"] is None
    assert read_days(["01/12/2026", "12/31/2026"], True)["01/12/2026"] == date(2026, 1, 12)


def test_a_day_that_is_its_month_s_number_reads_one_way() -> None:
    assert day_in("12/12/2026") == date(2026, 12, 12)


def test_decimal_commas_and_some_currencies_tell_that_days_come_first() -> None:
    header = "Code;Price;Valid from;Currency"
    assert a_row(header, "1-1;4,50;01/12/2026;").starts == FIRST
    assert a_row("Code;Price EUR;Valid from", "1-1;4.50;01/12/2026").starts == FIRST
    unsure = a_row("Code;Price USD;Valid from", "1-1;4.50;01/12/2026")
    assert (unsure.starts, unsure.faults[0].column) == (None, "Valid from")
    assert "2026-12-01" in unsure.faults[0].detail


def test_first_and_last_days_stand_in_their_rows() -> None:
    one, two, three = a_table("Code;Price;Valid from;Valid until", "1-1;1.50;2026-12-01;2026-12-31", "1-2;1.50;;",
                              "1-3;1.50;2026-12-31;2026-12-01").rows
    assert said(one, "starts", "ends") == (FIRST, date(2026, 12, 31))
    assert said(two, "starts", "ends", "faults") == (None, None, ())
    assert [fault.column for fault in three.faults] == ["Valid until"]


@given(st.dates(min_value=date(2000, 1, 1), max_value=date(2099, 12, 31)))
def test_any_day_reads_back(day: date) -> None:
    assert day_in(day.isoformat()) == day_in(f"{day:%d.%m.%Y}") == day_in(f"{day:%d.%m.%y}") == day
    assert day_in(f"{day:%d/%m/%Y}", True) == day_in(f"{day:%m/%d/%Y}", False) == day


@given(st.text(max_size=60), st.sampled_from([True, False, None]))
def test_no_text_breaks_the_reading(text: str, day_first: bool | None) -> None:
    assert isinstance(day_in(text, day_first), date | None)
