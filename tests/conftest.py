"""Fixtures that all tests may use: ledgers on both engines, migrated and empty, each test its own.

`database_url` runs a test twice, on SQLite and on PostgreSQL. Both come from a template that is migrated once a
session (and once per worker under pytest-xdist), so a fresh ledger costs some milliseconds.
"""

import os
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from service.interpreter import suit_the_service
from service.persistence.engines import Engines, open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from tests.postgres import NoPostgres, PostgresServer, running_server

# How fast an example is made or run says how busy the machine is, and is no finding. Where more examples than these are
# worth their time a test says so.
settings.register_profile("unhurried", max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("unhurried")


# What is collected stays: at Python's own thresholds a fifth of that time goes into walking over it.
suit_the_service()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The pages first: some of their modules take more than a minute, and one that begins last has the other workers
    wait for it."""
    items.sort(key=lambda item: item.path.parent.name != "web")


class SettableClock:
    """A clock that stands still until a test moves it."""

    def __init__(self, now: datetime) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now

    def move(self, **by: float) -> None:
        self.now += timedelta(**by)


@pytest.fixture
def clock() -> SettableClock:
    """Monday 2 March 2026, ten in the morning, UTC."""
    return SettableClock(datetime(2026, 3, 2, 10, tzinfo=UTC))


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[PostgresServer]:
    """A PostgreSQL server; skips where the wheel is missing, unless on CI, where that fails."""
    try:
        running = running_server()
        server = running.__enter__()
    except NoPostgres as reason:
        if os.environ.get("CI"):
            pytest.fail(f"No PostgreSQL to test against: {reason}")
        pytest.skip(f"No PostgreSQL to test against: {reason}")
    try:
        yield server
    finally:
        running.__exit__(None, None, None)


@pytest.fixture(scope="session")
def postgres_template(postgres_server: PostgresServer) -> str:
    """The name of a migrated, empty database to clone."""
    url = postgres_server.create()
    migrate(url)
    return url.split("@/")[1].split("?")[0]


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated, empty SQLite file to copy."""
    path = tmp_path_factory.mktemp("sqlite") / "template.db"
    migrate(f"sqlite:///{path}")
    return path


@pytest.fixture
def sqlite_url(sqlite_template: Path, tmp_path: Path) -> str:
    """A migrated, empty ledger on SQLite."""
    path = tmp_path / "ledger.db"
    shutil.copyfile(sqlite_template, path)
    return f"sqlite:///{path}"


@pytest.fixture
def postgres_url(postgres_server: PostgresServer, postgres_template: str) -> Iterator[str]:
    """A migrated, empty ledger on PostgreSQL."""
    url = postgres_server.create(postgres_template)
    yield url
    postgres_server.drop(url)


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest) -> str:
    """A migrated, empty ledger on either engine."""
    return request.getfixturevalue("sqlite_url" if request.param == "sqlite" else "postgres_url")


@pytest.fixture(params=["sqlite", "postgresql"])
def bare_database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """A database that was never migrated, on either engine; the SQLite file does not exist."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'bare.db'}"
        return
    server: PostgresServer = request.getfixturevalue("postgres_server")
    url = server.create()
    yield url
    server.drop(url)


@pytest.fixture
def engines(database_url: str) -> Iterator[Engines]:
    """The ways into that ledger."""
    opened = open_engines(database_url)
    yield opened
    opened.dispose()


@pytest.fixture
def ledger(engines: Engines, clock: SettableClock) -> SqlLedger:
    """That ledger, with a clock that the test moves."""
    return SqlLedger(engines, clock)
