"""What an answer comes to, and how long it asks to wait.

Sources of the judges: RFC 9110 section 10.2.3 (its two examples of Retry-After) and section 5.6.7 (one moment in the
three forms of a date); Standard Webhooks 1.0.0 for statuses; the standard library's writer of dates.
"""

from datetime import UTC, datetime, timedelta
from email.utils import format_datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.integrations.webhooks.answers import outcome_of, seconds_asked_for
from service.use_cases.webhook_sending import Came, Outcome

NOW = datetime(2026, 3, 2, 10, tzinfo=UTC)


def test_the_two_examples_of_the_standard():
    assert seconds_asked_for("120", NOW) == 120
    shortly_before = datetime(1999, 12, 31, 23, 58, 59, tzinfo=UTC)
    assert seconds_asked_for("Fri, 31 Dec 1999 23:59:59 GMT", shortly_before) == 60


@pytest.mark.parametrize("date", [
    "Sun, 06 Nov 1994 08:49:37 GMT", "Sunday, 06-Nov-94 08:49:37 GMT", "Sun Nov  6 08:49:37 1994"])
def test_the_three_forms_of_a_date_are_the_same_moment(date):
    assert seconds_asked_for(date, datetime(1994, 11, 6, 8, 49, 0, tzinfo=UTC)) == 37


@given(st.integers(0, 40_000_000))
def test_seconds_and_the_date_so_many_seconds_away_are_the_same(seconds):
    at = format_datetime(NOW + timedelta(seconds=seconds), usegmt=True)
    assert seconds_asked_for(str(seconds), NOW) == seconds_asked_for(at, NOW) == seconds


def test_a_part_of_a_second_counts_as_one_so_that_nobody_comes_early():
    assert seconds_asked_for("Mon, 02 Mar 2026 10:00:05 GMT", NOW + timedelta(milliseconds=1)) == 5
    assert seconds_asked_for("Mon, 02 Mar 2026 10:00:05 GMT", NOW + timedelta(milliseconds=1_001)) == 4


def test_a_moment_that_has_passed_is_now_and_one_that_never_comes_is_far():
    assert seconds_asked_for("Mon, 02 Mar 2026 09:00:00 GMT", NOW) == 0
    assert seconds_asked_for("9" * 5_000, NOW) == 999_999_999
    assert seconds_asked_for("100000000", NOW) == 100_000_000


def test_a_date_with_a_zone_is_the_moment_that_it_names():
    """No HTTP date has one but GMT; what is sent all the same is read as mail has it (RFC 5322 section 3.3)."""
    assert seconds_asked_for("Mon, 02 Mar 2026 11:01:30 +0100", NOW) == 90


@pytest.mark.parametrize(("status", "outcome"), [
    (199, Outcome(Came.REFUSED, 199, 90)), (200, Outcome(Came.DELIVERED, 200)), (299, Outcome(Came.DELIVERED, 299)),
    (300, Outcome(Came.REFUSED, 300, 90)), (409, Outcome(Came.REFUSED, 409, 90)), (410, Outcome(Came.GONE, 410)),
    (411, Outcome(Came.REFUSED, 411, 90))])
def test_every_2xx_is_delivered_410_is_gone_and_all_else_is_refused(status, outcome):
    assert outcome_of(status, "Mon, 02 Mar 2026 10:01:30 GMT", NOW) == outcome


@pytest.mark.parametrize("text", [
    None, "", "soon", "-5", "1.5", "1e3", "٣", "Mon, 99 Mar 2026 10:00:00 GMT", "Mon, 02 Mar 99999 10:00:00 GMT", "GMT",
])
def test_what_is_neither_seconds_nor_a_date_is_not_honoured(text):
    assert seconds_asked_for(text, NOW) is None


@given(st.text(max_size=40) | st.text("0123456789 :,GMTFriDec-+", max_size=40))
def test_whatever_it_says_it_is_seconds_or_nothing(text):
    seconds = seconds_asked_for(text, NOW)
    assert seconds is None or 0 <= seconds <= 999_999_999


@given(st.integers(200, 999))
def test_only_2xx_is_success_and_only_410_ends(status):
    outcome = outcome_of(status, "7", NOW)
    assert (outcome.came is Came.DELIVERED) == (status < 300)
    assert (outcome.came is Came.GONE) == (status == 410)
    assert outcome.status == status
    assert (outcome.retry_after_seconds == 7) == (outcome.came is Came.REFUSED)


def test_who_took_the_message_is_not_asked_when_to_come_again():
    assert outcome_of(204, "7", NOW) == Outcome(Came.DELIVERED, 204)
