"""Allowances: what several workers give out together of one key's minute, and what they hold back."""

from collections.abc import Iterator
from itertools import cycle
from random import Random

import pytest

from service.use_cases.allowances import FORGOTTEN_AFTER, Allowances, Taken
from tests.bookings import BookedInMemory
from tests.conftest import SettableClock

TILL = "till"


@pytest.fixture
def booked() -> BookedInMemory:
    return BookedInMemory()


def workers(count: int, booked: BookedInMemory, clock: SettableClock) -> list[Allowances]:
    return [Allowances(booked, clock) for _ in range(count)]


def given(asked: Iterator[Allowances], per_minute: int, patience: int = 50) -> int:
    """How many requests go on, until so many in a row are refused."""
    accepted = refused = 0
    while refused < patience:
        if next(asked).take(TILL, per_minute).refused:
            refused += 1
        else:
            accepted, refused = accepted + 1, 0
    return accepted


@pytest.mark.parametrize("per_minute", [1, 2, 7, 60, 100, 1_000, 6_000, 50_000])
def test_one_worker_gives_exactly_the_allowance(per_minute, booked, clock):
    (alone,) = workers(1, booked, clock)
    assert given(cycle([alone]), per_minute) == per_minute


@pytest.mark.parametrize("per_minute", [60, 600, 6_000, 50_000])
@pytest.mark.parametrize("count", [2, 3, 8])
def test_workers_that_are_asked_in_turn_give_the_allowance_together(count, per_minute, booked, clock):
    assert given(cycle(workers(count, booked, clock)), per_minute) == per_minute


@pytest.mark.parametrize("seed", range(5))
def test_a_worker_that_is_asked_no_more_holds_back_less_than_a_twentieth(seed, booked, clock):
    """The worst of three workers: two are asked a while, at random, and then never again."""
    chance, three = Random(seed), workers(3, booked, clock)
    before = 0
    for one in three[:2]:
        before += sum(not one.take(TILL, 6_000).refused for _ in range(chance.randrange(2_000)))
    assert 0.95 * 6_000 <= before + given(cycle(three[2:]), 6_000) <= 6_000


def test_a_worker_that_was_killed_takes_no_more_with_it_than_its_lease(booked, clock):
    first, second = workers(2, booked, clock)
    took = sum(not first.take(TILL, 6_000).refused for _ in range(500))
    leased = sum(booked.booked.values()) // 10
    del first
    rest = given(cycle([second]), 6_000)
    assert took + rest == 6_000 - (leased - took)
    assert leased - took <= 6_000 // 64


def test_most_requests_cost_no_statement(booked, clock):
    given(cycle(workers(3, booked, clock)), 60_000)
    assert booked.statements < 60_000 / 100


def test_a_till_that_polls_once_a_second_leases_once_a_minute(booked, clock):
    (alone,) = workers(1, booked, clock)
    for _ in range(60 * 10):
        alone.give_back(TILL, alone.take(TILL, 6_000))
        clock.move(seconds=1)
    assert booked.statements == 10


def test_a_refused_holder_costs_no_further_statement_before_the_minute_is_over(booked, clock):
    (alone,) = workers(1, booked, clock)
    given(cycle([alone]), 60)
    before = booked.statements
    assert given(cycle([alone]), 60) == 0
    assert booked.statements == before


def test_an_answer_that_says_that_nothing_changed_counts_a_tenth(booked, clock):
    (alone,) = workers(1, booked, clock)
    polls = 0
    while not (taken := alone.take(TILL, 100)).refused:
        alone.give_back(TILL, taken)
        polls += 1
    assert 991 <= polls <= 1_000


def test_what_was_taken_of_one_minute_is_not_given_back_to_the_next(booked, clock):
    """Sixty polls are on their way at the turn of the minute, and are answered with 304 after it."""
    (alone,) = workers(1, booked, clock)
    under_way = [alone.take(TILL, 60) for _ in range(60)]
    clock.move(seconds=60)
    assert not alone.take(TILL, 60).refused
    for taken in under_way:
        alone.give_back(TILL, taken)
    assert 1 + given(cycle([alone]), 60) == 60


def test_what_is_left_and_when_there_is_more_is_told(booked, clock):
    (alone,) = workers(1, booked, clock)
    clock.move(seconds=17.4)
    first = alone.take(TILL, 3)
    assert first == Taken(False, 2, 43)
    assert alone.give_back(TILL, first) == 2
    assert [alone.take(TILL, 3) for _ in range(2)] == [Taken(False, 1, 43), Taken(False, 0, 43)]
    assert alone.take(TILL, 3) == Taken(True, 0, 43)
    clock.move(seconds=42.5)
    assert alone.take(TILL, 3).refused
    clock.move(seconds=0.5)
    assert alone.take(TILL, 3) == Taken(False, 2, 60)


def test_holders_do_not_share(booked, clock):
    (alone,) = workers(1, booked, clock)
    given(cycle([alone]), 10)
    assert not alone.take("another till", 10).refused


def test_clocks_that_differ_find_what_was_booked_of_the_minute_that_they_show(booked, clock):
    """The second worker's clock is 40 seconds behind: at the turn it is still in the minute before."""
    behind = SettableClock(clock.now)
    ahead, late = Allowances(booked, clock), Allowances(booked, behind)
    assert given(cycle([ahead]), 600) == 600
    clock.move(seconds=60)
    behind.move(seconds=20)
    assert given(cycle([ahead]), 600) == 600
    assert given(cycle([late]), 600) == 0
    behind.move(seconds=40)
    assert given(cycle([late]), 600) == 0


def test_a_clock_that_steps_back_gives_no_minute_twice(booked, clock):
    (alone,) = workers(1, booked, clock)
    assert given(cycle([alone]), 600) == 600
    clock.move(seconds=60)
    alone.take(TILL, 600)
    clock.move(seconds=-30)
    assert given(cycle([alone]), 600) == 0


def test_while_nothing_can_be_booked_a_sixteenth_is_lent_and_booked_with_the_next_lease(booked, clock):
    (alone,) = workers(1, booked, clock)
    booked.locked = True
    lent = given(cycle([alone]), 6_000)
    assert lent == 6_000 // 16
    assert alone.take(TILL, 6_000) == Taken(True, 0, 1)
    statements = booked.statements
    assert alone.take(TILL, 6_000).refused
    assert booked.statements == statements, "it is not tried again within the second"
    booked.locked = False
    clock.move(seconds=1)
    assert lent + given(cycle([alone]), 6_000) == 6_000


def test_what_was_lent_counts_for_the_other_workers_once_it_is_booked(booked, clock):
    lending, other = workers(2, booked, clock)
    booked.locked = True
    for _ in range(370):
        assert not lending.take(TILL, 6_000).refused
    booked.locked = False
    while lending.take(TILL, 6_000).remaining > 5_000:
        pass
    assert sum(booked.booked.values()) >= 1_000 * 10
    assert 1_000 + given(cycle([other, lending]), 6_000) <= 6_000


def test_a_small_allowance_is_lent_one_request(booked, clock):
    (alone,) = workers(1, booked, clock)
    booked.locked = True
    assert given(cycle([alone]), 5) == 1


def test_holders_who_ask_no_more_are_forgotten_and_those_who_do_keep_their_minute(booked, clock):
    """Each job of a provider may be a subject of its own: a worker would keep all that ever asked."""
    (alone,) = workers(1, booked, clock)
    for number in range(100):
        alone.take(f"job {number}", 60)
        alone.take(TILL, 60)
        clock.move(seconds=FORGOTTEN_AFTER / 10)
    assert len(alone._shares) < 25
    before = alone.take(TILL, 60).remaining
    alone._forget()
    assert alone.take(TILL, 60).remaining == before - 1
