"""Sales sent by several at once: none is lost, one stands, and every revision reads what it knew; on both engines."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from decimal import Decimal
from random import Random

import pytest

from service.domain.errors import LimitPassed, Refused
from service.domain.history import Mark
from service.persistence.engines import Engines
from service.persistence.ledger import SqlLedger
from service.persistence.verifying import verify
from service.use_cases.ports import Asker
from service.use_cases.position import Position
from service.use_cases.read_sales import list_sales, read_sales_day
from service.use_cases.read_theoretical_food_cost import KEPT, KeptPeriods, Period, period_asked
from service.use_cases.record_sales import record_sales
from service.use_cases.sales_files import MOST_LINES_OF_A_DAY, SentDay
from tests.sold import a_sale

TODAY = date(2026, 3, 2)
DATES = [TODAY - timedelta(days=back) for back in range(3)]
NOWHERE = Position(0, "", TODAY)


def till(number: int) -> Asker:
    return Asker(f"till-{number}", f"Till {number}", "request")


def sent(*days: date, portions: int = 1) -> list[SentDay]:
    return [SentDay(day, [a_sale("1042", str(portions), "18.33")]) for day in days]


def test_tills_that_send_at_once_lose_nothing_and_one_sending_stands(ledger: SqlLedger, engines: Engines) -> None:
    def send(number: int) -> list[tuple[int, date, str]]:
        chance, recorded = Random(number), []
        for turn in range(8):
            days = chance.sample(DATES, 2)
            told = record_sales(ledger, sent(*days, portions=10 * number + turn), till(number)).document
            recorded += [(told["revision"], day, str(10 * number + turn)) for day in days]
        return recorded

    with ThreadPoolExecutor(4) as tills:
        every = sorted(entry for of_till in tills.map(send, range(1, 5)) for entry in of_till)
    assert [revision for revision, _, _ in every[::2]] == list(range(1, 33))
    stands: dict[date, str] = {}
    for revision, day, portions in every:
        stands[day] = portions
        assert read_sales_day(ledger, day, revision)["sold"] == portions
    assert {day: read_sales_day(ledger, day, 32)["sold"] for day in DATES} == stands
    assert verify(engines) == []


def test_a_sending_that_says_the_same_takes_no_revision_and_says_which_one_stands(ledger: SqlLedger) -> None:
    first = record_sales(ledger, sent(*DATES), till(1)).document
    again = record_sales(ledger, sent(*DATES), till(2)).document
    assert ledger.head().revision == first["revision"] == 1
    assert [(day["outcome"], day["revision"]) for day in again["days"]] == [("unchanged", 1)] * 3
    mixed = record_sales(ledger, [*sent(DATES[0]), *sent(DATES[1], portions=2)], till(1)).document
    assert [(day["outcome"], day["revision"]) for day in mixed["days"]] == [("unchanged", 1), ("replaced", 2)]
    entries = ledger.entries(Mark(1, 99), 9, 2)
    assert [(entry.kind, entry.code, entry.document["lines"][0]["quantity"]) for entry in entries] == [
        ("sales", DATES[1].isoformat(), "2")]


def test_a_list_goes_on_after_a_date(ledger: SqlLedger) -> None:
    record_sales(ledger, sent(*DATES), till(1))
    found: list[str] = []
    after: str | None = ""
    while after is not None:
        page = list_sales(ledger, DATES[-1], DATES[0], 1, after, 2)
        found += [day["business_date"] for day in page.data]
        after = page.next_after
    assert found == sorted(day.isoformat() for day in DATES)


def test_too_many_lines_of_a_day_are_refused_with_the_limit(ledger: SqlLedger) -> None:
    lines = [a_sale("1042")] * (MOST_LINES_OF_A_DAY + 1)
    with pytest.raises(Refused) as refused:
        record_sales(ledger, [SentDay(TODAY, lines), SentDay(DATES[1], lines)], till(1))
    assert [(type(fault), fault.more["at_most"]) for fault in refused.value.faults] == [
        (LimitPassed, MOST_LINES_OF_A_DAY)] * 2
    assert record_sales(ledger, [SentDay(TODAY, lines[1:])], till(1)).document["days"][0]["sold"] == str(
        Decimal(MOST_LINES_OF_A_DAY))


def test_a_period_is_known_by_its_last_sales_or_its_figures(ledger: SqlLedger) -> None:
    record_sales(ledger, sent(*DATES), till(1))
    record_sales(ledger, sent(DATES[0], portions=2), till(1))
    whole = period_asked(ledger, DATES[-1], DATES[0], NOWHERE, 2)
    assert (whole.sales_revision, whole.revision) == (2, 2)
    assert period_asked(ledger, DATES[-1], DATES[1], NOWHERE, 2).revision == 1
    later = Position(7, "", TODAY)
    assert period_asked(ledger, DATES[-1], DATES[1], later, 9).revision == 7


def test_what_was_made_of_a_period_is_kept_for_the_last_ones_alone() -> None:
    kept, made = KeptPeriods(), []
    periods = [Period(TODAY, TODAY, Position(number, "", TODAY), {}) for number in range(KEPT + 1)]

    def make(number: int) -> int:
        made.append(number)
        return number

    for number in (0, 0, *range(KEPT + 1), 1, 0):
        assert kept.of(periods[number], "figures", lambda number=number: make(number)) == number
    assert made == [*range(KEPT + 1), 0]
