"""The soak, shortly (T35); and each of its checks can fail."""

from decimal import Decimal
from pathlib import Path

from tests.postgres import PostgresServer
from tests.reliability.programme import Run
from tests.reliability.soak import (
    LOG_BYTES,
    LOG_BYTES_A_FAULT,
    PROGRAMME,
    Sample,
    all_workers_faults,
    log_faults,
    lost_prices,
    outages,
    slope,
    worker_faults,
    wrong_statuses,
    youngest,
)

HOUR = 3600.0


def growing(megabytes_an_hour: float, descriptors: float = 0, hours: float = 3) -> list[Sample]:
    """A worker that is looked at each minute; descriptors come so many an hour."""
    return [Sample(60.0 * minute, 150 + megabytes_an_hour * minute / 60, 30 + int(descriptors * minute / 60))
            for minute in range(int(hours * 60) + 1)]


def test_a_short_soak_with_faults_loses_nothing(postgres_url: str, postgres_server: PostgresServer, tmp_path: Path
                                                ) -> None:
    verdict = PROGRAMME.run(Run(PROGRAMME.short, postgres_url, tmp_path, server=postgres_server))
    assert verdict.passed, verdict.faults
    assert verdict.figures["faults done"]
    assert verdict.figures["prices acknowledged"]
    assert "MB an hour that the ledger takes" in verdict.figures


def test_an_acknowledged_price_that_is_gone_is_found_even_where_its_id_was_given_to_another() -> None:
    there = {("5-1", Decimal(3)), ("6-1", Decimal(4))}
    assert lost_prices([("5-1", Decimal(3)), ("6-1", Decimal(4))], there) == []
    assert "6-1 of 5" in lost_prices([("6-1", Decimal(5)), ("6-1", Decimal(4))], there)[0]


def test_memory_that_grows_after_the_first_hour_is_found() -> None:
    assert worker_faults(1, growing(0.5), 0) == []
    assert "MB an hour" in worker_faults(1, growing(1.5), 0)[0]
    assert round(slope(growing(1.5)), 6) == 1.5


def test_what_the_ledger_takes_is_no_growth_of_a_worker_and_more_than_that_is() -> None:
    assert worker_faults(1, growing(4.5), 4) == []
    assert "5.50 MB an hour after its first, the ledger 4.00" in worker_faults(1, growing(5.5), 4)[0]


def test_memory_is_not_judged_before_a_worker_has_lived_for_two_hours() -> None:
    assert worker_faults(1, growing(60, hours=1.5), 0) == []


def test_the_youngest_worker_is_the_one_that_is_killed() -> None:
    seen = {1: [Sample(5, 100, 30)], 2: [Sample(9, 100, 30), Sample(11, 100, 30)], 3: [Sample(7, 100, 30)]}
    assert youngest([1, 2, 3], seen) == 2
    assert youngest([1, 4, 2], seen) == 4, "it has just come, and was not looked at yet"
    assert youngest([3, 1], seen) == 3


def test_a_long_run_in_which_no_worker_grew_old_has_judged_nothing() -> None:
    young = {1: growing(60, hours=1.5), 2: growing(60, hours=0.5)}
    assert all_workers_faults(young, 2 * HOUR, 0) == []
    assert "nothing tells whether one grows" in all_workers_faults(young, 8 * HOUR, 0)[0]
    assert "MB an hour" in all_workers_faults(young | {3: growing(1.5)}, 8 * HOUR, 0)[0]


def test_descriptors_that_grow_are_found() -> None:
    assert worker_faults(1, growing(0, descriptors=5), 0) == []
    assert "after its first hour" in worker_faults(1, growing(0, descriptors=20), 0)[0]
    assert worker_faults(1, growing(0, descriptors=400, hours=1), 0) == ["worker 1: 430 descriptors"]


def test_a_log_that_grows_without_faults_is_found() -> None:
    assert log_faults(LOG_BYTES + LOG_BYTES_A_FAULT, 1) == []
    assert log_faults(LOG_BYTES + LOG_BYTES_A_FAULT, 0) != []


def test_a_server_error_is_wrong_and_a_refusal_for_now_is_not() -> None:
    assert wrong_statuses("poll", {"200": 5, "304": 5, "503": 1, "lost": 1}) == []
    assert wrong_statuses("poll", {"500": 2}) == ["poll: 2 answers of 500"]


def test_an_outage_is_found_though_every_answer_of_it_is_a_refusal_for_now() -> None:
    assert outages("poll", {"200": 240, "503": 12, "lost": 10}) == []
    assert outages("poll", {"200": 240, "503": 14, "lost": 10}) == ["poll: 24 of 264 were refused or lost"]
    assert outages("poll", {"503": 10}) == []
    assert outages("poll", {"503": 11}) == ["poll: 11 of 11 were refused or lost"]
