"""What the long runs found once is run again in every run: the files of tests/reliability/found/, if there are any."""

import json
import shutil
from pathlib import Path

import pytest

from tests.postgres import PostgresServer
from tests.reliability.every_programme import PROGRAMMES
from tests.reliability.programme import Run

FOUND = Path(__file__).parent / "found"


def finds(folder: Path) -> list[Path]:
    """The files that are kept, or none."""
    return sorted(folder.glob("*.json"))


def test_what_was_found_once_is_not_found_again(request: pytest.FixtureRequest, tmp_path: Path) -> None:
    for place, kept in enumerate(finds(FOUND)):
        found = json.loads(kept.read_text())
        programme = next(each for each in PROGRAMMES if each.name == found["name"])
        folder = tmp_path / str(place)
        folder.mkdir()
        server = None if found["engine"] == "sqlite" else request.getfixturevalue("postgres_server")
        url = _a_ledger(request, folder) if server is None else _a_database(request, server)
        verdict = programme.run(Run(max(found["cases"], 1), url, folder, found["seed"], server=server))
        assert verdict.passed, f"{kept.name}: {verdict}"


def _a_ledger(request: pytest.FixtureRequest, folder: Path) -> str:
    shutil.copyfile(request.getfixturevalue("sqlite_template"), folder / "ledger.db")
    return f"sqlite:///{folder / 'ledger.db'}"


def _a_database(request: pytest.FixtureRequest, server: PostgresServer) -> str:
    return server.create(request.getfixturevalue("postgres_template"))


def test_a_find_that_is_kept_is_one_of_a_part_that_there_is(tmp_path: Path) -> None:
    (tmp_path / "made-up.json").write_text("{}")
    assert [kept.name for kept in finds(tmp_path)] == ["made-up.json"]
    assert {json.loads(kept.read_text())["name"] for kept in finds(FOUND)} <= {each.name for each in PROGRAMMES}
