"""A PostgreSQL that keeps what it acknowledged, for tests that kill it: with fsync, on a real disk, its pages whole.

`synchronous_commit` is on unless the service says otherwise for its own sessions.
"""

import contextlib
import os
import shutil
import signal
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests import postgres
from tests.launching import alive, children_of
from tests.postgres import PostgresServer

SETTINGS = postgres._SETTINGS | {
    "fsync": "on", "full_page_writes": "on", "synchronous_commit": "on", "wal_writer_delay": "10s"}
"""A commit that is acknowledged before it is on the disk is there ten seconds later, not a fifth of one: so that a test
sees it is not there."""


@dataclass
class DurablePostgres(PostgresServer):
    """A server that can be killed and started again."""

    programs: Path = Path()
    demoted: Any = None

    def start(self) -> None:
        """Start it, and wait until it has recovered. A dead postmaster that nobody has reaped still counts as running
        to the next one, so its locks are taken away; `kill` has seen that none of its processes is left."""
        for lock in (self.data / "postmaster.pid", self.socket_folder / ".s.PGSQL.5432.lock"):
            lock.unlink(missing_ok=True)
        postgres._call([self.programs / "pg_ctl", "-D", self.data, "-w", "-t", "120", "-l", self.socket_folder / "log",
                        "start"], self.socket_folder, self.demoted)

    def kill(self) -> None:
        """SIGKILL of the postmaster and of every backend; waits until all are gone. It is stopped first, so that it
        forks no backend that nobody would kill."""
        postmaster = int((self.data / "postmaster.pid").read_text().split()[0])
        os.kill(postmaster, signal.SIGSTOP)
        members = [postmaster, *children_of(postmaster)]
        for process in members:
            with contextlib.suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        while any(alive(process) for process in members):
            time.sleep(0.002)

    @property
    def data(self) -> Path:
        return self.socket_folder / "data"


@contextlib.contextmanager
def durable_postgres() -> Iterator[DurablePostgres]:
    """A server of its own, gone afterwards.

    Raises:  NoPostgres.
    """
    folder, demoted = Path(tempfile.mkdtemp(prefix="seamcost-pg-")), postgres._demoted()
    try:
        folder.chmod(0o755)
        if demoted:
            os.chown(folder, demoted["user"], demoted["group"])
        server = DurablePostgres(folder, programs=postgres._programs(folder, demoted), demoted=demoted)
        postgres._start(server.programs, folder, demoted, SETTINGS)
        try:
            yield server
        finally:
            with contextlib.suppress(FileNotFoundError, ProcessLookupError):
                server.kill()
    finally:
        shutil.rmtree(folder, ignore_errors=True)
