"""A folder of backups that looks after itself: each named by its moment and revision, proven, the oldest let go.

Rules that always hold: a backup has its name once it is whole, on the disk and, where that is asked for, proven; only
then are older ones removed, so that a failure never costs one that was good, and never the new one, whatever the clock
said when the others were made; one process at a time works in a folder; what one that was killed left behind is removed
by the next. A backup that was proven is told in a file beside them.

A proof restores the file into a SQLite ledger that is thrown away again, beside the backups: a container's own
temporary folder is often too small for one.
"""

import fcntl
import os
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from service.persistence.backup import Progress, Written, finish, write_unfinished
from service.persistence.engines import Engines, open_engines
from service.persistence.migrating import migrate
from service.persistence.restoring import restore
from service.watching.proven_backup import tell_proven

NAMED = re.compile(r"ledger-\d{8}T\d{6}Z-r\d+\.jsonl\.gz")
_UNFINISHED, _PROVING, _LOCK = ".unfinished.jsonl.gz", ".proving", ".lock"

Check = Callable[[Engines], list[str]]
"""Says what is wrong with a ledger, a sentence each; nothing when it is whole."""


class FolderBusy(Exception):
    """Another backup is at work in this folder."""


class NotProven(Exception):
    """A backup that could not be restored to a ledger that is whole. It was not kept, and none was removed for it."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A backup in its folder, and which older ones went for it."""

    path: Path
    written: Written
    removed: tuple[Path, ...]


def backups_in(folder: Path) -> list[Path]:
    """The backups of a folder, oldest first. Other files are none of ours."""
    return sorted(path for path in folder.iterdir() if NAMED.fullmatch(path.name))


def back_up_into(engines: Engines, folder: Path, now: datetime, keep: int | None = None, check: Check | None = None,
                 progress: Progress = lambda _rows: None) -> Kept:
    """Write a backup into a folder that is there, prove it where there is a `check`, and keep the newest `keep`.

    Raises:  FolderBusy, NotProven, LedgerUnavailable, OSError.
    """
    unfinished = folder / _UNFINISHED
    with _alone_in(folder):
        try:
            written = write_unfinished(engines, unfinished, progress)
            if check is not None:
                prove(unfinished, folder / _PROVING, check)
            path = folder / f"ledger-{now.astimezone(UTC):%Y%m%dT%H%M%SZ}-r{written.revision}.jsonl.gz"
            finish(unfinished, path)
            if check is not None:
                tell_proven(folder, now, written.revision)
        finally:
            unfinished.unlink(missing_ok=True)
        old = [each for each in backups_in(folder) if each != path][:1 - keep or None] if keep else []
        for each in old:
            each.unlink()
        return Kept(path, written, tuple(old))


def prove(backup: Path, room: Path, check: Check) -> None:
    """Restore a backup into a ledger in `room`, a folder that is made and removed again, and look at it.

    Raises:  NotProven, BackupDamaged, LedgerUnavailable, OSError.
    """
    shutil.rmtree(room, ignore_errors=True)
    room.mkdir(mode=0o700)
    url = f"sqlite:///{room.absolute() / 'ledger.db'}"
    try:
        migrate(url)
        engines = open_engines(url)
        try:
            restore(engines, backup)
            wrong = check(engines)
        finally:
            engines.dispose()
    finally:
        shutil.rmtree(room, ignore_errors=True)
    if wrong:
        raise NotProven(f"The backup restores, but the ledger in it is not whole: {wrong[0]}")


@contextmanager
def _alone_in(folder: Path) -> Iterator[None]:
    """On a network's file system a lock is had on a file that may be written alone, not on the folder (flock(2))."""
    held = os.open(folder / _LOCK, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise FolderBusy(f"Another backup is at work in {folder}; let it finish.") from None
        yield
    finally:
        os.close(held)
