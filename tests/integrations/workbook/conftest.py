"""A spreadsheet program for the tests of a module, and the demo kitchen behind the use cases."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from service import operating, wiring
from service.cli.demo_loading import load_demo
from service.persistence.ledger import SqlLedger
from service.settings import Settings
from service.use_cases.position import Position
from service.use_cases.snapshot import Snapshot
from service.use_cases.snapshots import Snapshots
from tests.integrations.workbook.live_program import LiveProgram, live_program
from tests.stories.running_service import WEDNESDAY, set_clock


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveProgram]:
    """The program, started once a module."""
    with live_program(tmp_path_factory.mktemp("program")) as running:
        yield running


@pytest.fixture(scope="module")
def demo_ledger(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[SqlLedger]:
    """The demo kitchen, loaded on a Wednesday."""
    folder = tmp_path_factory.mktemp("demo")
    shutil.copyfile(sqlite_template, folder / "demo.db")
    settings = Settings(database_url=f"sqlite:///{folder / 'demo.db'}", test_mode=True, clock_file=folder / "clock")
    set_clock(folder / "clock", WEDNESDAY)
    with operating.opened_ledger(settings) as ledger:
        load_demo(ledger, wiring.app_on(ledger, settings), operating.now(settings), lambda done: None)
        yield ledger


@pytest.fixture(scope="module")
def snapshots(demo_ledger: SqlLedger) -> Snapshots:
    return Snapshots(demo_ledger)


@pytest.fixture(scope="module")
def demo(demo_ledger: SqlLedger, snapshots: Snapshots) -> Snapshot:
    """The demo's figures that Wednesday."""
    head = demo_ledger.head()
    return snapshots.at(Position(head.figures_revision, head.figures_hash, demo_ledger.today()))
