"""The sales of a ledger: kept whole, replaced by a later sending, and read as known at any revision."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from sqlalchemy import func, select

from service.domain.sales import SalesDay, SalesLine
from service.persistence.tables.sales import sales_day, sales_line
from service.persistence.verifying import verify
from service.use_cases.ports import Entry
from tests.persistence.writing import CHEF
from tests.sold import a_comp, a_sale, a_staff_meal

MONDAY = date(2026, 3, 2)
TUESDAY = MONDAY + timedelta(days=1)
LINES = (a_sale("1042", "12.5", "229.1625"), a_sale("1042", "-1", "-18.33"), a_comp("7"), a_staff_meal("007", "2"),
         a_sale("7", "999999999999.999999", "-999999999999.999999"))


def keep(ledger, *days):
    """Keep sales by date in one revision, and say which."""
    with ledger.write(CHEF, moves_figures=False) as work:
        for day, lines in days:
            mark = work.next_mark(Entry("record_sales", "sales", day.isoformat(), {"lines": len(lines)}))
            work.sales.keep(SalesDay(day, tuple(lines), mark))
    return work.head.revision + 1


def test_sales_come_back_as_they_were_sent(ledger):
    keep(ledger, (TUESDAY, LINES), (MONDAY, LINES[:1]))
    found = ledger.sales.days(MONDAY, TUESDAY, 1)
    assert [(day.business_date, day.lines) for day in found] == [(MONDAY, LINES[:1]), (TUESDAY, LINES)]
    assert {type(line.kind) for day in found for line in day.lines} == {type(LINES[0].kind)}


def test_a_later_sending_replaces_an_earlier_one_and_both_are_kept(ledger, engines):
    keep(ledger, (MONDAY, LINES), (TUESDAY, LINES[:2]))
    keep(ledger, (MONDAY, LINES[2:]))
    keep(ledger, (MONDAY, ()))
    kept = {known: [day.lines for day in ledger.sales.days(MONDAY, TUESDAY, known)] for known in range(4)}
    assert kept == {0: [], 1: [LINES, LINES[:2]], 2: [LINES[2:], LINES[:2]], 3: [(), LINES[:2]]}
    assert [mark.revision for mark in ledger.sales.recorded(MONDAY, TUESDAY, 3).values()] == [3, 1]
    assert list(ledger.sales.recorded(TUESDAY, TUESDAY, 3)) == [TUESDAY]
    with engines.read() as connection:
        assert connection.scalar(select(func.count()).select_from(sales_day)) == 4
        assert connection.scalar(select(func.count()).select_from(sales_line)) == len(LINES) + 2 + len(LINES) - 2
    assert verify(engines) == []


def test_what_stands_is_read_under_the_lock(ledger):
    keep(ledger, (MONDAY, LINES), (TUESDAY, LINES[:1]))
    keep(ledger, (TUESDAY, LINES[:2]))
    with ledger.write(CHEF) as work:
        standing = work.sales.standing([TUESDAY, MONDAY, TUESDAY + timedelta(days=1)])
    assert {day: (found.lines, found.made.revision) for day, found in standing.items()} == {
        MONDAY: (LINES, 1), TUESDAY: (LINES[:2], 2)}


def test_a_year_of_dates_is_kept_and_replaced_at_once(ledger):
    year = [MONDAY + timedelta(days=number) for number in range(1_100)]
    for revision, line in enumerate((LINES[0], LINES[2]), start=1):
        assert keep(ledger, *[(day, (line,)) for day in year]) == revision
    with ledger.write(CHEF) as work:
        assert {day.lines for day in work.sales.standing(year).values()} == {(LINES[2],)}
    assert len(ledger.sales.days(year[0], year[-1], 1)) == len(year)


def test_sales_move_no_figure(ledger):
    before = ledger.head()
    keep(ledger, (MONDAY, LINES))
    after = ledger.head()
    assert (after.figures_revision, after.figures_hash) == (before.figures_revision, before.figures_hash)
    assert after.revision == before.revision + 1


def test_one_date_is_not_kept_twice_in_one_revision(ledger):
    with pytest.raises(ValueError, match="twice"):
        keep(ledger, (MONDAY, LINES), (MONDAY, ()))
    assert ledger.head().revision == 0


def test_equal_sales_say_the_same_however_they_are_written():
    day = SalesDay(MONDAY, LINES, None)
    assert day.says([line._replace(quantity=Decimal(f"{line.quantity:f}").normalize()) for line in reversed(LINES)])
    assert not day.says(LINES[:-1])
    assert not day.says([*LINES[:-1], SalesLine(*LINES[-1][:3], kind=LINES[2].kind)])
    assert not replace(day, lines=(*LINES, LINES[0])).says(LINES)
