"""The server: gunicorn as a library, with every setting that differs from its own and the reason why.

Rules that always hold: the parent process has no connection open when it forks, and each worker makes its own
application, so that nothing of a database crosses a fork.
"""

import errno
import socket
import struct
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from flask import Flask
from gunicorn.app.base import BaseApplication
from gunicorn.arbiter import Arbiter

from service.cli.graceful_stop import LeavingArbiter, LeavingWorker, Stopping, close_after_answer
from service.cli.starting import Starting
from service.cli.usable_cores import usable_cores
from service.settings import Settings, SettingWrong
from service.watching.writing_logs import ServerLogger, level_of

Ready = Callable[[str], None]
"""Told the address once connections are accepted."""

MEMORY_FOLDER = Path("/dev/shm")  # noqa: S108  (only where the heartbeat's file is put, by gunicorn, under a random name)


SECONDS_OF_SILENCE = 10
"""How long a client may be silent amid a request, or leave an answer unread, before the connection is closed. A thread
waits with it: as many silent clients as there are threads hold a worker for so long. A client that trickles is never
silent: the proxy in front takes requests whole before it passes them on."""


class PortInUse(OSError):
    """Something else listens there."""


def workers_of(settings: Settings, several_are_safe: bool) -> int:
    """How many worker processes there are.

    Raises:  SettingWrong when several are asked for and the SQLite at hand could damage the file under them.
    """
    if settings.workers is None:
        fitting = 2 if settings.database_url.startswith("sqlite") else 2 * usable_cores()
        return fitting if several_are_safe else 1
    if settings.workers > 1 and not several_are_safe:
        raise SettingWrong(
            f"SEAMCOST_WORKERS is {settings.workers}, but the SQLite of this Python can damage its file when several "
            "processes write (the WAL-reset bug, mended in 3.51.3): use 1 worker, or PostgreSQL.")
    return settings.workers


def server_settings(settings: Settings, workers: int, ready: Ready, hooks: Mapping[str, Any] = MappingProxyType({})
                    ) -> dict[str, Any]:
    """What gunicorn is told; `hooks` are more of its own."""
    return {
        "bind": [_bind(settings.host, settings.port), *metrics_bind(settings)],
        "proc_name": "seamcost",
        # Threads: short requests that wait for a database, tills that keep their connection open; a sync worker would
        # be stopped by one half-sent request, and reset queued ones when it ends. Ours ends as graceful_stop.py says.
        "worker_class": LeavingWorker,
        "workers": workers,
        "threads": settings.threads,
        # A worker whose heartbeat stops for so long is replaced. A single request has its own limits.
        "timeout": 30,
        "graceful_timeout": 30,
        "keepalive": 5,
        # A bound on slow leaks, and far: a new worker has to build its snapshot again. The jitter keeps workers from
        # leaving together.
        "max_requests": settings.max_requests,
        "max_requests_jitter": settings.max_requests // 10,
        # The heartbeat touches a file: on a slow disk that blocks the worker until it is taken for dead.
        "worker_tmp_dir": str(MEMORY_FOLDER) if MEMORY_FOLDER.is_dir() else None,
        # Forked database connections must never be used; each worker opens its own.
        "preload_app": False,
        "limit_request_line": 4094,
        "limit_request_fields": 50,
        "limit_request_field_size": 8190,
        # `X_Request_Id` must not pass for `X-Request-Id`; and no header may set SCRIPT_NAME or PATH_INFO.
        "header_map": "refuse",
        "forwarder_headers": "",
        # By default a management socket is made under the home folder, which nobody asked for and which may be
        # read-only.
        "control_socket_disable": True,
        "umask": 0o077,
        "http_protocols": "h1",
        **_logging(settings),
        # gunicorn bounds neither a silent head or body nor an answer that nobody reads. The kernel does, for every
        # connection that these sockets accept.
        "when_ready": lambda arbiter: (bound_silence(arbiter), ready(address_of(arbiter))),
        "pre_request": close_after_answer,
        **hooks,
    }


def bound_silence(arbiter: Arbiter) -> None:
    """Have every connection accepted from now on give up on a silent client (socket(7), SO_RCVTIMEO: what is accepted
    has what the listening socket has)."""
    patience = struct.pack("ll", SECONDS_OF_SILENCE, 0)
    for listener in arbiter.LISTENERS:
        listener.sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVTIMEO, patience)
        listener.sock.setsockopt(socket.SOL_SOCKET, socket.SO_SNDTIMEO, patience)


def address_of(arbiter: Arbiter) -> str:
    """Where the server listens, as a URL: with the real port where any free one was asked for."""
    host, port = arbiter.LISTENERS[0].sock.getsockname()[:2]
    return f"http://{_bracketed(host)}:{port}"


def refuse_port_in_use(settings: Settings) -> None:
    """Say at once that the port is taken, before any work is done.

    Raises:  PortInUse; SettingWrong for an address that is not this host's.
    """
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((settings.host, settings.port))
        except OSError as error:
            if error.errno == errno.EADDRINUSE:
                raise PortInUse(f"Port {settings.port} on {settings.host} is in use; give another with --port, or 0 "
                                "for any free one") from None
            raise SettingWrong(f"SEAMCOST_HOST is {settings.host!r}, port {settings.port}: "
                               f"{error.strerror or error}.") from None


class Server(BaseApplication):  # type: ignore[misc]
    """Gunicorn around the application that `make_app` makes in each worker; it leaves for `drain_seconds` when told to
    stop. `starting` and `stopping` say how far it is."""

    def __init__(self, told: dict[str, Any], make_app: Callable[[], Flask], starting: Starting | None = None,
                 stopping: Stopping | None = None, drain_seconds: int = 0) -> None:
        self._told, self._make_app = told, make_app
        self.starting, self.stopping = starting or Starting(1), stopping or Stopping()
        self.drain_seconds = drain_seconds
        super().__init__()

    def load_config(self) -> None:
        for name, value in self._told.items():
            self.cfg.set(name, value)

    def load(self) -> Flask:
        return self._make_app()

    def run(self) -> None:
        """Serve until told to stop."""
        LeavingArbiter(self).run()


def _logging(settings: Settings) -> dict[str, Any]:
    """Requests are told by the application; what the server itself says goes the way of all lines."""
    return {"accesslog": None, "errorlog": "-", "logger_class": ServerLogger, "loglevel": level_of(settings)}


def metrics_bind(settings: Settings) -> list[str]:
    """The second listener, for who scrapes; none unless a port is set.

    Raises:  SettingWrong where it would be the port of the API.
    """
    if settings.metrics_port is None:
        return []
    if settings.metrics_port == settings.port:
        raise SettingWrong(f"SEAMCOST_METRICS_PORT is {settings.metrics_port}, as SEAMCOST_PORT: give it another, one "
                           "that outsiders do not reach.")
    return [_bind(settings.metrics_host, settings.metrics_port)]


def _bind(host: str, port: int) -> str:
    return f"{_bracketed(host)}:{port}"


def _bracketed(host: str) -> str:
    return f"[{host}]" if ":" in host else host
