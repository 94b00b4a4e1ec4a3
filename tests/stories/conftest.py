"""A running service for the stories of each module, on SQLite and on PostgreSQL: with the demo kitchen, or empty.

The demo is loaded once a session and engine; each module gets a copy of its own.
"""

import json
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from service import operating, wiring
from service.cli.demo_kitchen import demo_requests
from service.settings import Settings
from tests.one_engine import leave_out
from tests.postgres import PostgresServer
from tests.stories.running_service import WEDNESDAY, WORKERS, RunningService, a_key, running_service, set_clock

OLDEST_CURL = (7, 76)


ON_BOTH_ENGINES = frozenset(f"test_{name}" for name in ("acceptance_races", "ledger"))
"""What is about writes at once and their order runs on both engines. Of the other stories, which an engine has little
part in, PostgreSQL is enough in every run, since tests/rest, tests/cli and tests/web run on SQLite, and tests/use_cases
and tests/persistence on both; SEAMCOST_EVERY_ENGINE has them all run on both."""


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what runs on one engine alone, on the other."""
    leave_out("sqlite", "stories", ON_BOTH_ENGINES, config, items)


@pytest.fixture(scope="session")
def sqlite_demo(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file with the demo kitchen."""
    path = tmp_path_factory.mktemp("demo") / "demo.db"
    shutil.copyfile(sqlite_template, path)
    _load_demo(f"sqlite:///{path}", path.parent)
    return path


@pytest.fixture(scope="session")
def postgres_demo(postgres_server: PostgresServer, postgres_template: str,
                  tmp_path_factory: pytest.TempPathFactory) -> str:
    """The name of a PostgreSQL database with the demo kitchen."""
    url = postgres_server.create(postgres_template)
    _load_demo(url, tmp_path_factory.mktemp("demo"))
    return url.split("@/")[1].split("?")[0]


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def service(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningService]:
    """The service with the demo kitchen, loaded on a Wednesday and at noon of that day."""
    with _copied(request, tmp_path_factory, "demo") as running:
        yield running


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def service_of_three(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
                     ) -> Iterator[RunningService]:
    """The same with three worker processes."""
    with _copied(request, tmp_path_factory, "demo", workers=3) as running:
        yield running


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def empty_service(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningService]:
    """The service with an empty ledger."""
    with _copied(request, tmp_path_factory, "template") as running:
        yield running


@pytest.fixture(scope="session")
def curl() -> None:
    """Skips where curl is missing or too old for the examples, unless on CI, where that fails."""
    found = shutil.which("curl")
    told = subprocess.run([found, "--version"], capture_output=True, text=True, check=True).stdout if found else ""
    version = re.match(r"curl (\d+)\.(\d+)", told)
    if version is None or (int(version[1]), int(version[2])) < OLDEST_CURL:
        reason = "No curl 7.76 or newer to test with."
        pytest.fail(reason) if os.environ.get("CI") else pytest.skip(reason)


@contextmanager
def _copied(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, which: str, workers: int = WORKERS
) -> Iterator[RunningService]:
    folder = tmp_path_factory.mktemp("service")
    if request.param == "sqlite":
        shutil.copyfile(request.getfixturevalue(f"sqlite_{which}"), folder / "ledger.db")
        with running_service(f"sqlite:///{folder / 'ledger.db'}", folder, workers) as running:
            yield running
        return
    server: PostgresServer = request.getfixturevalue("postgres_server")
    url = server.create(request.getfixturevalue(f"postgres_{which}"))
    try:
        with running_service(url, folder, workers) as running:
            yield running
    finally:
        server.drop(url)


def _load_demo(url: str, folder: Path) -> None:
    settings = Settings(database_url=url, test_mode=True, clock_file=folder / "clock")
    set_clock(folder / "clock", WEDNESDAY)
    key = a_key(settings, "admin")
    with operating.opened_ledger(settings) as ledger:
        client = wiring.app_on(ledger, settings).test_client()
        for asked in demo_requests(WEDNESDAY):
            answer = client.open(asked.path, method=asked.method, data=json.dumps(asked.body),
                                 content_type="application/json", headers={"Authorization": f"Bearer {key}"})
            assert answer.status_code in (200, 201), answer.text
