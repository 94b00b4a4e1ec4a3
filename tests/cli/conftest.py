"""What the command line's tests stand on: the demo loaded once, files to spoil, and commands run as people run them."""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from service import operating, wiring
from service.cli.commands import main
from service.cli.demo_loading import load_demo
from service.settings import Settings

TOP = Path(__file__).resolve().parents[2]
Run = Callable[..., Result]
Start = Callable[..., "subprocess.Popen[str]"]


@pytest.fixture(scope="session")
def loaded_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file with the demo in it. To be copied, not written to."""
    file = tmp_path_factory.mktemp("demo") / "demo.db"
    settings = Settings(database_url=f"sqlite:///{file}")
    operating.migrate(settings)
    with operating.opened_ledger(settings) as ledger:
        assert load_demo(ledger, wiring.app_on(ledger, settings), operating.now(settings), lambda done: None) > 100
    return file


@pytest.fixture
def demo_file(loaded_demo: Path, tmp_path: Path) -> Path:
    """A demo of the test's own."""
    return Path(shutil.copy(loaded_demo, tmp_path / "seamcost.db"))


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a command in a folder of the test's own, with no setting but those given."""
    monkeypatch.chdir(tmp_path)
    for name in [name for name in os.environ if name.startswith("SEAMCOST_")]:
        monkeypatch.delenv(name)

    def command(*arguments: str, **environment: str) -> Result:
        mask = os.umask(0o022)
        try:
            return CliRunner().invoke(main, arguments, env=environment, prog_name="seamcost")
        finally:
            os.umask(mask)

    return command


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    """Start a command as a process of its own; whatever still runs at the end of the test is killed."""
    started: list[subprocess.Popen[str]] = []
    clean = {name: value for name, value in os.environ.items() if not name.startswith("SEAMCOST_")}

    def process(*arguments: str, **environment: str) -> "subprocess.Popen[str]":
        begun = subprocess.Popen(
            [sys.executable, "-m", "service.cli", *arguments], cwd=tmp_path, text=True,
            env={**clean, "PYTHONPATH": str(TOP), **environment}, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        started.append(begun)
        return begun

    yield process
    for begun in started:
        if begun.poll() is None:
            begun.kill()
        begun.communicate()
