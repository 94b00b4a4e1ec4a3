"""The whole service as it is deployed: a gunicorn with worker processes on a real port, asked by plain HTTP.

The clock of all workers stands at noon of a chosen day (test mode), so that what a story expects does not depend on
when it runs.
"""

import contextlib
import os
import socket
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import requests

from service import operating
from service.settings import Settings
from service.use_cases.keys import create_key
from service.use_cases.ports import Asker
from tests.answer_validator import AnswerValidator
from tests.launching import alive, children_of, launcher, stopped

WEDNESDAY, MONDAY = date(2026, 11, 25), date(2026, 11, 30)
WORKERS = 2
THREADS = 4
OUT_OF_THE_WAY = "600000"
"""What a story's keys may ask a minute, unless made with less: counted as ever, and never used up."""


class NotReady(Exception):
    """The service did not come up."""


@dataclass
class Client:
    """Asks with one key over one connection at a time, and holds every answer to the API document."""

    address: str
    key: str
    validator: AnswerValidator
    session: requests.Session = field(default_factory=requests.Session)

    def ask(self, method: str, path: str, body: Any = None, **headers: str) -> requests.Response:
        """Ask, with header fields named in Python's manner: `if_match='"214"'`."""
        sent = {"Authorization": f"Bearer {self.key}"} if self.key else {}
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        answer = self.session.request(method, self.address + path, headers=sent, json=body, timeout=60)
        self.validator.check_answer(method, path.partition("?")[0], answer.status_code,
                                    answer.headers.get("Content-Type", ""), answer.content)
        if body is not None and answer.status_code < 300:
            self.validator.check_accepted(method, path.partition("?")[0], body)
        return answer

    def get(self, path: str, **headers: str) -> requests.Response:
        return self.ask("GET", path, **headers)

    def read(self, path: str) -> Any:
        """The answer to a read that must succeed."""
        answer = self.get(path)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def put(self, path: str, body: Any, **headers: str) -> requests.Response:
        return self.ask("PUT", path, body, **headers)

    def send_file(self, path: str, content: bytes, media_type: str = "application/octet-stream", **headers: str
                  ) -> requests.Response:
        """Send a file as the body."""
        sent = {"Authorization": f"Bearer {self.key}", "Content-Type": media_type} | {
            name.replace("_", "-"): value for name, value in headers.items()}
        answer = self.session.post(self.address + path, headers=sent, data=content, timeout=60)
        self.validator.check_answer("POST", path.partition("?")[0], answer.status_code,
                                    answer.headers.get("Content-Type", ""), answer.content)
        return answer

    def post(self, path: str, body: Any, **headers: str) -> requests.Response:
        return self.ask("POST", path, body, **headers)

    def keep(self, path: str, body: Any) -> Any:
        """Record something that must be taken, whatever was there; the answer."""
        answer = self.ask("POST" if path.endswith(("/prices", "/yield-tests", "/keys")) else "PUT", path, body,
                          **({} if path.endswith(("/prices", "/yield-tests", "/keys")) else self._over(path)))
        assert answer.status_code in (200, 201), answer.text
        return answer.json()

    def everything(self, path: str) -> list[Any]:
        """Every row of a list, page by page."""
        rows, cursor, joint = [], None, "&" if "?" in path else "?"
        while True:
            page = self.read(path + (f"{joint}cursor={cursor}" if cursor else ""))
            rows += page["data"]
            cursor = page["next_cursor"]
            if cursor is None:
                return rows

    def head_revision(self) -> int:
        """Where the ledger stands, by the feed."""
        revision: int = self.read("/v1/changes?limit=1")["revision"]
        return revision

    def _over(self, path: str) -> dict[str, str]:
        there = self.session.get(self.address + path, headers={"Authorization": f"Bearer {self.key}"}, timeout=60)
        return {"if_match": "*"} if there.status_code == 200 else {}


@dataclass
class RunningService:
    """A service that runs: where it is, its database, its clock, its process group."""

    address: str
    settings: Settings
    group: int
    validator: AnswerValidator
    admin: Client

    def client(self, *scopes: str) -> Client:
        """A client with a key of its own; no scopes: no key."""
        return Client(self.address, a_key(self.settings, *scopes) if scopes else "", self.validator)

    def same(self, client: Client) -> Client:
        """Another client with the same key, on a connection of its own."""
        return Client(self.address, client.key, self.validator)

    def move_to(self, day: date) -> None:
        """Move the clock of every worker to noon of a day."""
        assert self.settings.clock_file is not None
        set_clock(self.settings.clock_file, day)

    def clients_of_every_worker(self, client: Client) -> dict[int, Client]:
        """A client for each worker process, each with a connection that this very process has accepted."""
        found: dict[int, Client] = {}
        until = time.monotonic() + 30
        spare = []
        while len(found) < self.workers:
            assert time.monotonic() < until, f"only {sorted(found)} accept connections"
            another = self.same(client)
            another.get("/health/live")
            pid = self.worker_behind(another)
            spare.append(another)
            found.setdefault(pid, another)
        for another in spare:
            if another not in found.values():
                another.session.close()
        return found

    @property
    def workers(self) -> int:
        return len(self.worker_processes())

    def worker_processes(self) -> list[int]:
        return children_of(self.group)

    def worker_behind(self, client: Client) -> int:
        """The process that holds the other end of the client's open connection."""
        pool = next(iter(client.session.adapters["http://"].poolmanager.pools._container.values()))
        connection = pool.pool.queue[-1]
        local, remote = connection.sock.getsockname()[1], connection.sock.getpeername()[1]
        inode = _inode_of(local=remote, remote=local)
        return next(pid for pid in self.worker_processes() if inode in _sockets_of(pid))


@contextlib.contextmanager
def running_service(database_url: str, folder: Path, workers: int = WORKERS, key: str = "", threads: int = THREADS,
                    app: str = "service.wsgi:app", environment: Mapping[str, str] | None = None, sabotage: str = ""
                    ) -> Iterator[RunningService]:
    """Serve a migrated database until the block is left; by a `key` that there is, where none can be made. `app` may be
    one that was broken on purpose, and `sabotage` a switch that breaks it (reliability/sabotage.py); `environment` goes
    to the server beside what all have."""
    settings = Settings(database_url=database_url, test_mode=True, clock_file=folder / "clock")
    set_clock(folder / "clock", WEDNESDAY)
    if not operating.place_of(settings).several_processes:
        workers = 1
    with socket.create_server(("127.0.0.1", 0)) as listening:
        address = f"http://127.0.0.1:{listening.getsockname()[1]}"
        group = launcher().start(
            {"arguments": [app, "-k", "gthread", "-w", str(workers), "--threads", str(threads), "--no-control-socket",
                           "--keep-alive", "30", "--graceful-timeout", "1"]},
            folder / "log", listening, sabotage, environment={
                "SEAMCOST_DATABASE_URL": database_url, "SEAMCOST_TEST_MODE": "1",
                "SEAMCOST_CLOCK_FILE": str(folder / "clock"), "SEAMCOST_THREADS": str(threads),
                "SEAMCOST_REQUESTS_PER_MINUTE": OUT_OF_THE_WAY, **(environment or {})})
    try:
        _wait_until_ready(address, group, folder / "log", workers)
        validator = _validator(f"{app} {sabotage}", address)
        admin = Client(address, key or a_key(settings, "admin"), validator)
        yield RunningService(address, settings, group, validator, admin)
    finally:
        stopped(group)


def set_clock(clock_file: Path, day: date) -> None:
    """Write the offset that makes it noon of a day, in one step, since workers may be reading."""
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
    fresh = clock_file.with_suffix(".new")
    fresh.write_text(str((noon - datetime.now(UTC)) // timedelta(seconds=1)))
    fresh.replace(clock_file)


def a_key(settings: Settings, *scopes: str) -> str:
    """A new key, made as the command line makes it."""
    with operating.opened_ledger(settings) as ledger:
        made = create_key(ledger, " ".join(scopes), scopes, None, Asker("cli", "story", "story"))
        return str(made.document["key"])


_VALIDATORS: dict[str, AnswerValidator] = {}


def _validator(app: str, address: str) -> AnswerValidator:
    """The judge over the document that an application serves, which is made by its code alone: asked for once."""
    if app not in _VALIDATORS:
        _VALIDATORS[app] = AnswerValidator(requests.get(f"{address}/openapi.json", timeout=30).json())
    return _VALIDATORS[app]


def _wait_until_ready(address: str, group: int, log: Path, workers: int) -> None:
    until = time.monotonic() + 180
    while time.monotonic() < until and alive(group):
        with contextlib.suppress(requests.RequestException):
            ready = requests.get(f"{address}/health/ready", timeout=5)
            if ready.status_code == 200 and len(children_of(group)) == workers:
                return
        time.sleep(0.1)
    raise NotReady(log.read_text(errors="replace")[-3000:])


def _inode_of(local: int, remote: int) -> str:
    for line in Path("/proc/net/tcp").read_text().splitlines()[1:]:
        fields = line.split()
        if int(fields[1].partition(":")[2], 16) == local and int(fields[2].partition(":")[2], 16) == remote:
            return f"socket:[{fields[9]}]"
    raise LookupError("the connection is closed")


def _sockets_of(pid: int) -> set[str]:
    found = set()
    for descriptor in Path(f"/proc/{pid}/fd").iterdir():
        with contextlib.suppress(OSError):
            found.add(os.readlink(descriptor))
    return found
