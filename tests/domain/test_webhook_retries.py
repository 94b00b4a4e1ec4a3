"""When a message is tried again. The times are those of the example in Standard Webhooks 1.0.0, "Retry schedule":

immediately, 5 seconds, 5 minutes, 30 minutes, 2 hours, 5 hours, 10 hours, 14 hours, 20 hours, 24 hours.
"""

from datetime import UTC, datetime, timedelta

import pytest

from service.domain.webhook_retries import LONGEST_ASKED_FOR, MOST_JITTER_PERMILLE, PAUSE, TRIES, after_failure

NOW = datetime(2026, 3, 2, 10, tzinfo=UTC)
EXAMPLE = [timedelta(seconds=5), timedelta(minutes=5), timedelta(minutes=30),
           *(timedelta(hours=hours) for hours in (2, 5, 10, 14, 20, 24))]


def waited(tries: int, status: int | None = 500, asked_for: int | None = None, jitter: int = 0) -> timedelta:
    due_at = after_failure(tries, NOW, status, asked_for, jitter).due_at
    assert due_at is not None
    return due_at - NOW


def test_the_waits_are_those_of_the_specification_s_example() -> None:
    assert [waited(tries) for tries in range(1, TRIES)] == EXAMPLE


def test_all_tries_lie_within_four_days_and_reach_over_three() -> None:
    latest = sum((waited(tries, jitter=MOST_JITTER_PERMILLE) for tries in range(1, TRIES)), timedelta())
    assert timedelta(days=3) < sum(EXAMPLE, timedelta()) <= latest < timedelta(days=4)


def test_after_the_tenth_there_is_no_other() -> None:
    assert after_failure(TRIES, NOW, 500, None, 0).due_at is None
    assert len(EXAMPLE) + 1 == TRIES


def test_jitter_only_ever_puts_off_and_by_a_tenth_at_most() -> None:
    for tries in range(1, TRIES):
        apart = [waited(tries, jitter=jitter) for jitter in range(0, MOST_JITTER_PERMILLE + 1, 20)]
        assert apart == sorted(apart)
        assert apart[0] == EXAMPLE[tries - 1]
        assert apart[-1] <= EXAMPLE[tries - 1] * 1.1


@pytest.mark.parametrize(("asked_for", "expected"), [
    (3, timedelta(seconds=5)), (60, timedelta(minutes=1)), (LONGEST_ASKED_FOR * 30, timedelta(days=1))])
def test_what_the_receiver_asks_for_is_honoured_within_limits_and_never_earlier(
    asked_for: int, expected: timedelta
) -> None:
    assert waited(1, asked_for=asked_for) == expected


@pytest.mark.parametrize("status", [429, 502, 503, 504])
def test_too_much_and_not_now_spare_the_receiver(status: int) -> None:
    assert after_failure(1, NOW, status, None, 0).paused_until == NOW + timedelta(seconds=PAUSE)
    assert after_failure(1, NOW, status, 600, 0).paused_until == NOW + timedelta(minutes=10)


@pytest.mark.parametrize("status", [None, 302, 400, 500])
def test_other_failures_slow_down_their_own_message_alone(status: int | None) -> None:
    assert after_failure(1, NOW, status, 600, 0).paused_until is None
