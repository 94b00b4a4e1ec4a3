"""The processes of the cage: started clean, given one file, ended; and one of each kind that waits for the next file.

A reader takes some 30 ms to start (80 with lxml), which is more than a list of some hundred rows takes to be read. So
when a file has been read, the next reader of its kind is started: it takes its rights away, loads its library, and
waits. It costs some 10 MB while it waits, and ends when the worker does, since then its input ends.
"""

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from contextlib import suppress
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from threading import Lock, Timer

from service.integrations.price_lists.cage_faults import CageLimits

MIB = 1_048_576
SCRIPT = Path(__file__).with_name("caged") / "child.py"
READERS: Mapping[str, str] = {"workbook": "python_calamine", "document": "lxml"}
"""Each reader, a module of `caged`, and the library that it reads with."""


class Child:
    """One reader at work, or waiting for its file."""

    def __init__(self, reader: str, limits: CageLimits) -> None:
        """Raises:  OSError when the system has no more processes to give."""
        orders = {"reader": reader, "folders": _folders(READERS[reader]), "memory_bytes": limits.memory_mib * MIB,
                  "cpu_seconds": limits.cpu_seconds}
        # The libraries that Python itself was linked with may be named there; nothing else of the worker's is passed.
        environment = {name: os.environ[name] for name in ("LD_LIBRARY_PATH",) if name in os.environ}
        # Isolated and without site: what may be imported is what the orders name, and the start is short.
        command = [sys.executable, "-I", "-S", "-B", str(SCRIPT), json.dumps(orders)]
        self._process = subprocess.Popen(  # noqa: S603
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment, cwd="/")
        self._clock: Timer | None = None
        self.was_stopped = False

    @property
    def is_alive(self) -> bool:
        return self._process.poll() is None

    def give(self, asked: Mapping[str, object], content: bytes, seconds: float) -> None:
        """Hands over the file, and starts the clock that stops the child. It reads all of it before it says a word."""
        self._clock = Timer(seconds, self._stop)
        self._clock.daemon = True
        self._clock.start()
        given = self._process.stdin
        if given is not None:
            # A child that ended while it was given the file tells why in its own way.
            with suppress(BrokenPipeError), given:
                given.write(json.dumps(asked).encode() + b"\n")
                given.write(content)

    def line(self, most: int) -> bytes:
        """What it says next, up to a line's end or so many bytes; nothing when it has ended."""
        said = self._process.stdout
        return said.readline(most) if said is not None else b""

    def last_words(self) -> tuple[int, bytes]:
        """Its exit status, below zero for a signal's number, and what it printed when it ended by itself."""
        status = self._process.wait()
        printed = self._process.stderr
        return status, printed.read(65_536) if printed is not None else b""

    def end(self) -> None:
        """Ends it, whatever it does."""
        if self._clock is not None:
            self._clock.cancel()
        self._process.kill()
        for pipe in (self._process.stdin, self._process.stdout, self._process.stderr):
            if pipe is not None:
                with suppress(BrokenPipeError):
                    pipe.close()
        self._process.wait()

    def _stop(self) -> None:
        self.was_stopped = True
        self._process.kill()


class Waiting:
    """The children that wait for a file, at most one of each kind, and only where one was needed before."""

    def __init__(self, limits: CageLimits) -> None:
        self._limits = limits
        self._lock = Lock()
        self._children: dict[str, Child] = {}
        self._owner = os.getpid()

    def take(self, reader: str) -> Child:
        """The child that waits, or a new one.

        Raises:  OSError when the system has no more processes to give.
        """
        with self._lock:
            self._forget_those_of_another_process()
            child = self._children.pop(reader, None)
        if child is not None and not child.is_alive:
            child.end()
            child = None
        return child or Child(reader, self._limits)

    def renew(self, reader: str) -> None:
        """Has one wait for the next file."""
        with self._lock:
            self._forget_those_of_another_process()
            if reader not in self._children:
                with suppress(OSError):
                    self._children[reader] = Child(reader, self._limits)

    def _forget_those_of_another_process(self) -> None:
        """After a fork the children that wait are the parent's, and so are their pipes."""
        if self._owner != os.getpid():
            self._owner = os.getpid()
            self._children = {}


@cache
def _folders(package: str) -> list[str]:
    """Where the child finds the service's own modules and the library: where this process found them."""
    found = [find_spec(name) for name in ("service", package)]
    return [str(Path(spec.origin).parents[1]) for spec in found if spec is not None and spec.origin]
