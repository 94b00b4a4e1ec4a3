"""T23: the power is cut amid writes, on a disk that forgets what was not synced (SQLite).

Three processes write to the ledger of the service, two prices a revision, until they are killed; then the disk
(forgetful_disk.py) forgets, in every second cycle with what a disk's own cache leaves behind: writes out of order, some
of them torn. What is left is opened and looked at, and the next cycle goes on from it. Now and then a ledger begins
anew, since all of it is verified each time.

The processes are told to write past HTTP, so that a cycle is short; what they run is the ledger, its pragmas and its
transactions as the workers have them.
"""

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from service.domain.supplier import Supplier
from service.persistence.engines import Engines, open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.persistence.verifying import verify
from tests.builders import a_primal
from tests.launching import TOP, alive, launcher
from tests.persistence.writing import record
from tests.reliability.programme import Programme, Run, Verdict

WRITERS = 3
CYCLES_A_LEDGER = 10
LONGEST = 0.15
"""Seconds at most for which the writers write, once all of them have begun."""


class NoForgetfulDisk(Exception):
    """Why there is none to test on."""


def power_cut(run: Run) -> Verdict:
    """Cut the power, again and again."""
    chance = random.Random(run.seed)
    acknowledged, faults, cycles, unacknowledged = 0, list[str](), 0, 0
    with forgetful_disk() as disk:
        while cycles < run.cases and run.in_time and not faults:
            if cycles % CYCLES_A_LEDGER == 0:
                url, told = _fresh_ledger(disk, cycles), dict[str, int]()
            logs = [run.folder / f"log-{cycles}-{number}" for number in range(WRITERS)]
            _write_and_cut(url, disk, logs, chance, run.sabotage, torn=cycles % 2 == 1)
            said, trouble = _said(logs)
            told |= said
            found, stored = _looked_at(url, told, WRITERS * (cycles % CYCLES_A_LEDGER + 1))
            faults += [f"cycle {cycles + 1}: {fault}" for fault in (*trouble, *found)]
            acknowledged += len(said)
            unacknowledged = stored - len(told)
            cycles += 1
    return Verdict(cycles, tuple(faults[:20]), {
        "acknowledged": acknowledged, "lost": sum("is not there" in fault for fault in faults),
        "there though not acknowledged, in the last ledger": unacknowledged})


@contextmanager
def forgetful_disk() -> Iterator[Path]:
    """The folder of such a disk, mounted.

    Raises:  NoForgetfulDisk.
    """
    with tempfile.TemporaryDirectory(prefix="seamcost-disk-") as folder:
        process = subprocess.Popen([sys.executable, "-m", "tests.reliability.forgetful_disk", folder], cwd=TOP,
                                   stderr=subprocess.PIPE, text=True)
        try:
            while not os.path.ismount(folder):
                if process.poll() is not None:
                    assert process.stderr is not None
                    raise NoForgetfulDisk(process.stderr.read().strip()[-300:])
                time.sleep(0.02)
            yield Path(folder)
        finally:
            subprocess.run(["fusermount3", "-u", "-z", folder], check=False, capture_output=True)
            process.kill()
            process.wait(20)
            if process.stderr is not None:
                process.stderr.close()


def _fresh_ledger(disk: Path, number: int) -> str:
    for left in disk.iterdir():
        left.unlink()
    url = f"sqlite:///{disk}/ledger-{number}.db"
    migrate(url)
    engines = open_engines(url, pool_size=1)
    try:
        record(SqlLedger(engines), Supplier("fenmoor", "Fenmoor"), a_primal())
    finally:
        engines.dispose()
    for kept in disk.iterdir():
        with kept.open("rb") as file:
            os.fsync(file.fileno())
    return url


def _write_and_cut(url: str, disk: Path, logs: list[Path], chance: random.Random, sabotage: str, torn: bool) -> None:
    """Let the writers write for a while, kill them all, and cut the power."""
    processes = [launcher().start({"writes": url, "word": log.name}, log, sabotage=sabotage) for log in logs]
    until = time.monotonic() + 60
    while not all(log.exists() and log.stat().st_size for log in logs) and time.monotonic() < until:
        time.sleep(0.002)
    time.sleep(chance.uniform(0, LONGEST))
    for process in processes:
        with suppress(ProcessLookupError):  # it has ended by itself: its log says why
            os.killpg(process, signal.SIGKILL)
    while any(alive(process) for process in processes):
        time.sleep(0.001)
    (disk / ".power").write_text(f"torn {chance.random()}" if torn else "cut")


def _said(logs: list[Path]) -> tuple[dict[str, int], list[str]]:
    """The revision of every word that was acknowledged; and what is wrong with the writers: one that was acknowledged
    nothing, or said anything else, was none to cut the power under."""
    told, trouble = dict[str, int](), list[str]()
    for log in logs:
        lines = log.read_text().splitlines() if log.exists() else []
        words = [line.partition(" ") for line in lines]
        told |= {word: int(revision) for revision, _, word in words if revision.isdigit() and word}
        others = [line for line, (revision, _, word) in zip(lines, words, strict=True)
                  if not (revision.isdigit() and word)]
        if others or not lines:
            trouble.append(f"a writer ended by itself, or wrote nothing: {' '.join(others)[-300:]}")
    return told, trouble


def _looked_at(url: str, told: dict[str, int], most_unacknowledged: int) -> tuple[list[str], int]:
    """What is wrong with what was left, and how many writes are there."""
    engines = open_engines(url, pool_size=1)
    try:
        return _faults_of(engines, told, most_unacknowledged)
    except Exception as error:  # whatever a damaged file does, it is what was looked for
        return [f"it cannot be read: {type(error).__name__}: {error}"], 0
    finally:
        engines.dispose()


def _faults_of(engines: Engines, told: dict[str, int], most_unacknowledged: int) -> tuple[list[str], int]:
    faults = [f"{each.revision}: {each.detail}" for each in verify(engines)]
    with engines.read() as connection:
        if (said := connection.exec_driver_sql("PRAGMA integrity_check").scalar()) != "ok":
            faults.append(f"integrity_check: {said}")
    ledger = SqlLedger(engines)
    head = ledger.head().revision
    there: dict[str, list[int]] = {}
    for price in ledger.kitchen(head).prices.get("beef-topside", ()):
        there.setdefault(price.reference.rpartition("-")[0], []).append(price.made.revision)
    faults += [f"{word} was acknowledged at {number} and is not there" for word, number in told.items()
               if there.get(word) != [number, number]]
    faults += [f"{word} is half there" for word, numbers in there.items() if len(numbers) != 2]
    if len(there) != head - 1 or not len(told) <= len(there) <= len(told) + most_unacknowledged:
        faults.append(f"the head is {head}; {len(there)} writes are there, {len(told)} were acknowledged")
    return faults, len(there)


PROGRAMME = Programme(
    "power_cut", "T23", "no acknowledged write is lost when the power is cut", "cuts", 8, 500, power_cut,
    engines=("sqlite",), sabotages=("skipped_fsync",))
