"""The business day: where the kitchen stands, from the hour its day starts, through both changes of the clock.

Source of the changes: IANA time zone database. Europe/London in 2026: 29 March 01:00 UTC forward, 25 October 01:00 UTC
back.
"""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.business_day import beginning_of, business_day


def on(moment: str, zone: str = "Europe/London", start: str = "00:00") -> date:
    return business_day(datetime.fromisoformat(moment).replace(tzinfo=UTC), zone, start)


@pytest.mark.parametrize(("moment", "zone", "start", "day"), [
    ("2026-03-02T10:00", "UTC", "00:00", date(2026, 3, 2)),
    ("2026-03-02T23:59:59", "UTC", "00:00", date(2026, 3, 2)),
    ("2026-03-03T03:59:59", "UTC", "04:00", date(2026, 3, 2)),
    ("2026-03-03T04:00", "UTC", "04:00", date(2026, 3, 3)),
    ("2026-03-02T23:30", "Europe/Athens", "00:00", date(2026, 3, 3)),
    ("2026-03-02T13:00", "Pacific/Auckland", "00:00", date(2026, 3, 3)),
    ("2026-03-02T06:00", "America/Los_Angeles", "00:00", date(2026, 3, 1)),
    ("2028-02-29T12:00", "UTC", "04:00", date(2028, 2, 29)),
])
def test_the_day_follows_the_zone_and_the_start(moment, zone, start, day):
    assert on(moment, zone, start) == day


def test_a_start_that_the_clock_jumps_over_is_the_jump():
    """London jumps from 01:00 to 02:00, which is 01:00 UTC; a day that starts at 01:30 starts then."""
    assert on("2026-03-29T00:59:59", start="01:30") == date(2026, 3, 28)
    assert on("2026-03-29T01:00:00", start="01:30") == date(2026, 3, 29)


def test_a_start_that_comes_twice_is_the_first():
    """London shows 01:30 twice, at 00:30 and at 01:30 UTC; between them it shows 01:00 again."""
    assert on("2026-10-25T00:29:59", start="01:30") == date(2026, 10, 24)
    assert on("2026-10-25T00:30:00", start="01:30") == date(2026, 10, 25)
    assert on("2026-10-25T01:10:00", start="01:30") == date(2026, 10, 25)
    assert on("2026-10-25T01:30:00", start="01:30") == date(2026, 10, 25)


ZONES = st.sampled_from(["Europe/London", "America/Sao_Paulo", "Australia/Lord_Howe", "America/Havana", "Asia/Kolkata"])
STARTS = st.sampled_from(["00:00", "01:30", "02:00", "04:00", "05:45"])


@given(zone=ZONES, start=STARTS, year=st.sampled_from([2017, 2018, 2026]), minute=st.integers(0, 365 * 24 * 60),
       later=st.integers(0, 300))
def test_the_business_day_never_goes_back(zone, start, year, minute, later):
    """Also where the clock goes back over midnight (Sao Paulo until 2019) or by half an hour (Lord Howe)."""
    moment = datetime(year, 1, 1, tzinfo=UTC) + timedelta(minutes=minute)
    assert business_day(moment, zone, start) <= business_day(moment + timedelta(minutes=later), zone, start)


def test_an_unknown_zone_is_told():
    with pytest.raises(KeyError, match="Middle"):
        on("2026-03-02T10:00", zone="Middle/Earth")


@pytest.mark.parametrize(("zone", "start"), [
    ("UTC", "00:00"), ("Europe/London", "04:00"), ("Europe/London", "01:30"), ("Pacific/Kiritimati", "23:59"),
    ("Etc/GMT+12", "05:00"), ("America/Havana", "00:30"), ("Australia/Lord_Howe", "02:15")])
def test_a_day_begins_where_the_day_before_has_just_ended(zone: str, start: str) -> None:
    """Over a whole year, with the days on which clocks are set."""
    for passed in range(366):
        day = date(2026, 1, 1) + timedelta(days=passed)
        begins = beginning_of(day, zone, start)
        assert business_day(begins, zone, start) == day
        assert business_day(begins - timedelta(seconds=1), zone, start) == day - timedelta(days=1)


def test_london_begins_its_day_an_hour_earlier_once_summer_time_has_begun() -> None:
    """Source: the Summer Time Order 2002: summer time begins at 01:00 GMT on the last Sunday of March."""
    assert beginning_of(date(2026, 3, 28), "Europe/London", "04:00") == datetime(2026, 3, 28, 4, tzinfo=UTC)
    assert beginning_of(date(2026, 3, 30), "Europe/London", "04:00") == datetime(2026, 3, 30, 3, tzinfo=UTC)
