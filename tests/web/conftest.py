"""A running service for the tests of each module of pages: an empty ledger, and worker processes as deployed."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.stories.running_service import RunningService, running_service


@pytest.fixture(scope="module")
def service(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningService]:
    """The service with an empty ledger, at noon of a Wednesday."""
    folder = tmp_path_factory.mktemp("service")
    shutil.copyfile(sqlite_template, folder / "ledger.db")
    with running_service(f"sqlite:///{folder / 'ledger.db'}", folder) as running:
        yield running
