"""Counts of several worker processes as one: each keeps its own in files, and whoever is scraped adds them up.

Rules that always hold: what a worker counted outlives it, however it ended; the gauges of a worker that is gone are
gone with it; the files of those who are gone are folded into one, so that a server that has replaced a thousand workers
is read as fast as on its first day; while files are folded nobody reads them, so nothing is counted twice or left out;
who folds waits a second at most, since it is the parent, which looks after all workers: else the next time does it.

Source: prometheus-client, "Multiprocess Mode (E.g. Gunicorn)"; flock(2).
"""

import fcntl
import logging
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from time import monotonic, sleep

from prometheus_client import values
from prometheus_client.mmap_dict import MmapedDict
from prometheus_client.multiprocess import mark_process_dead

from service.watching.answer_counts import PairsInFile, Row

_LOG = logging.getLogger("seamcost.metrics")
VARIABLE = "PROMETHEUS_MULTIPROC_DIR"
"""Where the library looks for the folder."""
_KIND, _GONE = "seamcost-metrics-", "gone"
_SUMMED = ("counter_{}.db", "histogram_{}.db", "answers_{}.pairs")
"""Files by process. What answers were counted has another ending than those that the library looks for and reads."""
_ANSWERS = _SUMMED[-1]
_held: list[int] = []
_unfolded: list[int] = []
PATIENCE_SECONDS, LOOK_AGAIN_SECONDS = 1.0, 0.02


def make_folder(within: Path | None) -> Path:
    """A folder for the counts of a server that starts, in memory where there is such a place; those of servers that
    were killed are removed. Told to the processes that are started from here by the environment."""
    made = Path(tempfile.mkdtemp(prefix=f".{_KIND}", dir=within))
    _remove_ownerless(made.parent)
    held = os.open(made / "held", os.O_CREAT | os.O_RDWR, 0o600)
    fcntl.flock(held, fcntl.LOCK_EX)
    _held.append(held)  # as long as the server, or a worker that it left behind, lives
    folder = made.rename(made.with_name(made.name.removeprefix(".")))  # from here on others look for it
    os.environ[VARIABLE] = str(folder)
    return folder


def count_in_files() -> Path | None:
    """Have this process keep its counts in the folder's files, if there is one. To be called after the fork."""
    folder, pid = os.environ.get(VARIABLE), os.getpid()
    if folder is None:
        return None
    # Told once: the library would ask the system at each count, which costs more than counting.
    values.ValueClass = values.MultiProcessValue(lambda: pid)  # type: ignore[misc]
    return Path(folder)


def own_answers(folder: Path) -> PairsInFile:
    """Where this process counts its answers."""
    return PairsInFile(folder / _ANSWERS.format(os.getpid()))


def answers_of_all(folder: Path) -> Iterator[Row]:
    """The answers that workers counted, those that are gone too; to be read while the folder is `steady`."""
    for file in folder.glob(_ANSWERS.format("*")):
        for key, count, seconds, _position in MmapedDict.read_all_values_from_file(str(file)):
            yield key, count, seconds


def worker_gone(pid: int) -> None:
    """Fold the counts of a worker that is no more into those of all who were before it. For the parent process."""
    folder = os.environ.get(VARIABLE)
    if folder is None:
        return
    _unfolded.append(pid)
    try:
        with _alone(Path(folder), fcntl.LOCK_EX | fcntl.LOCK_NB):
            while _unfolded:
                _fold(_unfolded[-1], Path(folder))
                _unfolded.pop()
    except BlockingIOError:
        _LOG.warning("counts of %d workers that are gone could not be folded yet", len(_unfolded))


def _fold(pid: int, folder: Path) -> None:
    mark_process_dead(pid, str(folder))
    for name in _SUMMED:
        own = folder / name.format(pid)
        if own.exists():
            _add(own, folder / name.format(_GONE))
            own.unlink()


@contextmanager
def steady(folder: Path) -> Iterator[None]:
    """While the files are read."""
    with _alone(folder, fcntl.LOCK_SH):
        yield


def _add(own: Path, to: Path) -> None:
    total = MmapedDict(str(to))
    try:
        for key, value, beside, _position in MmapedDict.read_all_values_from_file(str(own)):
            before, before_beside = total.read_value(key)
            total.write_value(key, before + value, before_beside + beside)
    finally:
        total.close()


@contextmanager
def _alone(folder: Path, how: int) -> Iterator[None]:
    with (folder / "lock").open("ab") as lock:
        until = monotonic() + PATIENCE_SECONDS
        while True:
            try:
                fcntl.flock(lock, how)
                break
            except BlockingIOError:
                if monotonic() > until:
                    raise
                sleep(LOOK_AGAIN_SECONDS)
        yield


def _remove_ownerless(within: Path) -> None:
    for held in within.glob(f"{_KIND}*/held"):
        try:
            descriptor = os.open(held, os.O_RDWR)
        except OSError:
            continue
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
            shutil.rmtree(held.parent, ignore_errors=True)
        except BlockingIOError:
            pass
        finally:
            os.close(descriptor)
