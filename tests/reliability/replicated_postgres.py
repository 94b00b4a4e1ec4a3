"""A PostgreSQL that can be restarted and has a streaming standby, as the wheel's own programs make one."""

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg

from tests import postgres
from tests.postgres import PostgresServer

SETTINGS = postgres._SETTINGS | {
    # What is acknowledged has been written, as on a server of production: a crash is one of the server alone here.
    "synchronous_commit": "on",
    "wal_level": "replica", "max_wal_senders": "4", "max_connections": "60", "hot_standby": "on",
    "max_standby_streaming_delay": "0", "log_min_error_statement": "error"}


@dataclass
class ReplicatedPostgres(PostgresServer):
    """A primary."""

    programs: Path = Path()
    demoted: Any = None

    def restart(self, mode: str) -> None:
        """Stop it (`fast`, or `immediate` as a crash) and start it again."""
        self.control("-m", mode, "-l", self.socket_folder / "log", "restart")

    def control(self, *words: Any, data: Path | None = None) -> None:
        postgres._call([self.programs / "pg_ctl", "-D", data or self.socket_folder / "data", "-w", "-t", "60", *words],
                       self.socket_folder, self.demoted)

    @contextlib.contextmanager
    def standby(self) -> Iterator[PostgresServer]:
        """A streaming copy of it, hot: what is read from it is what has arrived."""
        folder = self.socket_folder / "standby"
        folder.mkdir(mode=0o755)
        if self.demoted:
            os.chown(folder, self.demoted["user"], self.demoted["group"])
        postgres._call([self.programs / "pg_basebackup", "-h", self.socket_folder, "-U", "seamcost", "-D",
                        folder / "data", "-R", "-c", "fast", "--no-sync"], self.socket_folder, self.demoted)
        with (folder / "data" / "postgresql.auto.conf").open("a") as settings:
            settings.write(f"unix_socket_directories = '{folder}'\n")
        self.control("-l", folder / "log", "start", data=folder / "data")
        try:
            yield PostgresServer(folder)
        finally:
            self.control("-m", "immediate", "stop", data=folder / "data")


@contextlib.contextmanager
def replicated_postgres() -> Iterator[ReplicatedPostgres]:
    """A primary of its own, gone afterwards.

    Raises:  NoPostgres.
    """
    folder, demoted = Path(tempfile.mkdtemp(prefix="seamcost-pg-", dir=postgres._roomy_memory())), postgres._demoted()
    try:
        folder.chmod(0o755)
        if demoted:
            os.chown(folder, demoted["user"], demoted["group"])
        server = ReplicatedPostgres(folder, programs=postgres._programs(folder, demoted), demoted=demoted)
        postgres._start(server.programs, folder, demoted, SETTINGS)
        try:
            yield server
        finally:
            server.control("-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def told(url: str, statement: str) -> Any:
    """Tell a server something on a session of its own; the first row."""
    with psycopg.connect(url, autocommit=True) as connection:
        cursor = connection.execute(statement)  # type: ignore[call-overload]
        return cursor.fetchone() if cursor.description else None
