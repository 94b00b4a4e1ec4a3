"""A migration while the release before goes on serving: no request fails, and the old workers stay ready as long as the
new schema says that they work on it.

Source: PostgreSQL documentation, section 13.3 (who comes after a waiting ALTER waits behind it) and `lock_timeout`.
"""

import contextlib
import logging
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import psycopg
import pytest
import requests

from service.persistence import migrating
from service.persistence.engines import open_engines
from service.persistence.migrating import migrate
from service.persistence.schema_fit import newest_version, schema_version
from service.use_cases.ledger_unavailable import LedgerNotMigrated, LedgerUnavailable
from tests.reliability.next_release import CONTRACTS, EXPANDS, next_release
from tests.reliability.requests_on_end import under_load, until
from tests.stories.running_service import RunningService, running_service

NEWEST = newest_version() or ""


@pytest.fixture
def serving(database_url: str, tmp_path: Path) -> Iterator[RunningService]:
    with running_service(database_url, tmp_path) as running:
        yield running


def ready(service: RunningService) -> int:
    return requests.get(f"{service.address}/health/ready", timeout=30).status_code


def test_the_release_before_goes_on_through_a_migration_and_stays_ready(
        serving: RunningService, database_url: str, tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    expanding = next_release(tmp_path, EXPANDS, works_from=NEWEST)
    with under_load(serving) as load:
        until(lambda: load.written() > 5)
        with caplog.at_level(logging.WARNING, "seamcost.migrating"), _somebody_reads_long(
                database_url, lambda: "waits for tables" in caplog.text):
            migrate(database_url, scripts=expanding)
        waited = "waits for tables" in caplog.text
        before = load.written()
        until(lambda: load.written() > before + 5)
    assert load.failed() == []
    assert waited is database_url.startswith("postgresql")
    assert ready(serving) == 200
    migrate(database_url)
    assert _stands_at(database_url) == f"{int(NEWEST) + 1:04}"
    assert "stays at migration" in caplog.text
    _the_release_after_that_ends_it(serving, database_url, tmp_path)


def _the_release_after_that_ends_it(serving: RunningService, database_url: str, tmp_path: Path) -> None:
    """What takes something away says so: workers of the old release are no longer ready, and say why."""
    following = f"{int(NEWEST) + 2:04}"
    migrate(database_url, scripts=next_release(tmp_path, CONTRACTS, works_from=following, steps=2))
    assert ready(serving) == 503
    assert f"on which releases from migration {following} on work; this one is of {NEWEST}" in (
        tmp_path / "log").read_text()
    with pytest.raises(LedgerNotMigrated, match="Run a newer release"):
        migrate(database_url)


def test_a_migration_that_finds_no_moment_gives_up_and_changes_nothing(
        postgres_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(migrating, "PATIENCE_SECONDS", 0.5)
    monkeypatch.setattr(migrating, "LOCK_PATIENCE", "100ms")
    with _somebody_reads_long(postgres_url), pytest.raises(LedgerUnavailable, match="changed nothing"):
        migrate(postgres_url, scripts=next_release(tmp_path, EXPANDS, works_from=NEWEST))
    assert _stands_at(postgres_url) == NEWEST


def test_a_migration_that_waits_without_bound_has_all_readers_wait_behind_it(
        postgres_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The check can fail: this is what the bound is for."""
    monkeypatch.setattr(migrating, "LOCK_PATIENCE", "0")
    scripts = next_release(tmp_path, EXPANDS, works_from=NEWEST)
    with _somebody_reads_long(postgres_url), psycopg.connect(postgres_url, autocommit=True) as other:
        going = threading.Thread(target=lambda: migrate(postgres_url, scripts=scripts))
        going.start()
        until(lambda: other.execute("SELECT count(*) FROM pg_locks WHERE NOT granted").fetchone() == (1,))
        other.execute("SET lock_timeout = '2500ms'")
        with pytest.raises(psycopg.errors.LockNotAvailable):
            other.execute("SELECT count(*) FROM supplier_version")
    going.join(30)
    assert _stands_at(postgres_url) == f"{int(NEWEST) + 1:04}"


@contextlib.contextmanager
def _somebody_reads_long(url: str, long_enough: Callable[[], bool] = lambda: False) -> Iterator[None]:
    """On PostgreSQL, a transaction that has read the table that is to change, and stays open until that was long enough
    or to the end of the block. A reader of SQLite is in nobody's way."""
    if not url.startswith("postgresql"):
        yield
        return
    over = threading.Event()

    def read_on(reading: psycopg.Connection[Any]) -> None:
        while not over.wait(0.05) and not long_enough():
            pass
        reading.rollback()

    with psycopg.connect(url) as reading:
        reading.execute("SELECT count(*) FROM supplier_version")
        waiting = threading.Thread(target=read_on, args=(reading,))
        waiting.start()
        try:
            yield
        finally:
            over.set()
            waiting.join()


def _stands_at(url: str) -> str | None:
    engines = open_engines(url)
    try:
        return schema_version(engines)
    finally:
        engines.dispose()
