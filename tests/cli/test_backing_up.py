"""Backups in a folder: named by moment and revision, proven before they count, the oldest let go; once or for ever."""

import fcntl
import os
import re
import signal
import sqlite3
import subprocess
import time
from pathlib import Path

import pytest
from prometheus_client.parser import text_string_to_metric_families

from service.persistence.backup_folder import NAMED, backups_in
from service.watching.proven_backup import PROVEN
from tests.cli.conftest import Run, Start


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "backups"
    made.mkdir()
    return made


def tampered(file: Path) -> None:
    """Somebody takes the guards away and changes what was recorded."""
    with sqlite3.connect(file) as connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("UPDATE entry SET document = '{}' WHERE revision = 3")


@pytest.mark.usefixtures("demo_file")
def test_a_backup_in_a_folder_names_itself_and_is_for_its_owner_alone(run: Run, folder: Path) -> None:
    done = run("backup", "backups")
    (made,) = backups_in(folder)
    assert NAMED.fullmatch(made.name)
    assert f"-r{done.stdout.split(':')[0]}." in made.name
    assert made.stat().st_mode & 0o777 == 0o600
    assert done.stdout == run("verify").stdout
    assert run("restore", str(made), "--database", "sqlite:///other.db").exit_code == 0


@pytest.mark.usefixtures("demo_file")
def test_the_newest_are_kept_and_what_is_not_ours_is_left_alone(run: Run, folder: Path) -> None:
    (folder / "notes.txt").write_text("ours")
    old = [folder / f"ledger-2026030{day}T100000Z-r{day}.jsonl.gz" for day in (3, 1, 2)]
    for each in old:
        each.touch()
    (folder / ".unfinished.jsonl.gz").write_text("left by one that was killed")
    assert run("backup", "backups", "--keep", "2").exit_code == 0
    assert [path.name for path in backups_in(folder)[:-1]] == ["ledger-20260303T100000Z-r3.jsonl.gz"]
    assert sorted(path.name for path in folder.iterdir() if not NAMED.fullmatch(path.name)) == [
        ".lock", "notes.txt"]


@pytest.mark.usefixtures("demo_file")
def test_the_newest_is_kept_whatever_the_clock_said_before(run: Run, folder: Path) -> None:
    """A clock that was ahead once: those of then are named by a later moment."""
    ahead = [folder / f"ledger-2099030{day}T100000Z-r{day}.jsonl.gz" for day in (1, 2, 3)]
    for each in ahead:
        each.touch()
    for keep, left in (("2", 2), ("1", 1)):
        done = run("backup", "backups", "--keep", keep)
        assert done.exit_code == 0
        made = next(path for path in backups_in(folder) if path not in ahead)
        assert (len(backups_in(folder)), str(made.name) in done.stderr) == (left, True)


def test_a_backup_that_cannot_be_proven_is_not_kept_and_costs_none_that_is(
    run: Run, folder: Path, demo_file: Path
) -> None:
    before = time.time()
    proven = run("backup", "backups", "--keep", "1", "--prove")
    assert proven.exit_code == 0
    good, told = backups_in(folder), (folder / PROVEN).read_text()
    assert before - 1 <= gauge(told, "seamcost_proven_backup_timestamp_seconds") <= time.time()
    assert gauge(told, "seamcost_proven_backup_revision") == int(proven.stdout.split(":")[0])
    assert (folder / PROVEN).stat().st_mode & 0o777 == 0o600
    tampered(demo_file)
    done = run("backup", "backups", "--keep", "1", "--prove")
    assert (done.exit_code, done.stdout) == (1, "")
    assert "revision=3" in done.stderr or "revision 3" in done.stderr
    assert [path for path in folder.iterdir() if path.name not in (".lock", PROVEN)] == good
    assert (folder / PROVEN).read_text() == told


def gauge(text: str, name: str) -> float:
    """What a collector of text files reads, by the library's own parser."""
    families = {family.name: family for family in text_string_to_metric_families(text)}
    (sample,) = families[name].samples
    return sample.value


def test_a_file_is_proven_too(run: Run, demo_file: Path, tmp_path: Path) -> None:
    assert run("backup", "ledger.jsonl", "--prove").exit_code == 0
    tampered(demo_file)
    before = (tmp_path / "ledger.jsonl").read_bytes()
    assert run("backup", "ledger.jsonl", "--prove", "--force").exit_code == 1
    assert (tmp_path / "ledger.jsonl").read_bytes() == before
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


@pytest.mark.usefixtures("demo_file")
def test_one_at_a_time_works_in_a_folder(run: Run, folder: Path) -> None:
    held = os.open(folder / ".lock", os.O_RDWR | os.O_CREAT)
    fcntl.flock(held, fcntl.LOCK_EX)
    done = run("backup", "backups")
    os.close(held)
    assert (done.exit_code, "Another backup is at work" in done.stderr) == (1, True)
    assert run("backup", "backups").exit_code == 0


@pytest.mark.parametrize("flags", [["--keep", "3"], ["--every", "1"]])
def test_a_file_is_neither_kept_nor_repeated(run: Run, flags: list[str]) -> None:
    done = run("backup", "ledger.jsonl", *flags)
    assert (done.exit_code, "no folder that is there" in done.stderr) == (2, True)


def test_it_repeats_until_stopped_and_a_failure_is_tried_again(start: Start, folder: Path, demo_file: Path) -> None:
    """The database is away at first: told, tried again sooner than the next is due, and then kept."""
    away = demo_file.rename(demo_file.with_suffix(".away"))
    begun = start("backup", "backups", "--keep", "2", "--every", "0.0002")
    wait_for(begun, "This backup failed: There is no database at")
    assert backups_in(folder) == []
    away.rename(demo_file)
    deadline = time.monotonic() + 30
    seen: set[str] = set()
    while len(seen) < 3 and time.monotonic() < deadline:
        seen |= {path.name for path in backups_in(folder)}
        time.sleep(0.05)
    begun.send_signal(signal.SIGTERM)
    assert begun.wait(30) == 0
    assert len(seen) >= 3
    assert len(backups_in(folder)) == 2
    printed = begun.stdout.read() if begun.stdout else ""
    assert re.fullmatch(r"(\d+:[0-9a-f]{64}\n)+", printed)


def wait_for(process: "subprocess.Popen[str]", words: str) -> None:
    assert process.stderr is not None
    assert any(words in line for line in process.stderr)
