"""Starts the service again and again without importing it each time: `python -m tests.reliability.launcher DESCRIPTOR`.

It imports what the workers run, and forks: each child is a gunicorn of its own process group, whose workers make their
own application, as those of a fresh start do. A start costs a part of a fresh one that way, and thousands of kills
become affordable, as do some hundred stories.

At the other end of the descriptor, a socket, is `tests/launching.py`. A start is a message of JSON (`arguments`,
`environment`, `log`, `sabotage`) with the listening socket beside it, answered by the process that it became; `ended`
asks how one has ended. With `command` in place of `arguments`, the process is that command of `seamcost`, once it has
run the Python of `begin`. With `writes` it writes to that ledger without any HTTP, as fast as it goes, until it is
killed; its log has a line for each write that was acknowledged.
"""

import contextlib
import gc
import json
import os
import signal
import socket
import sys
import time
import traceback
from dataclasses import replace
from typing import Any

import gunicorn.app.wsgiapp
import gunicorn.workers.gthread

import service.cli.commands
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.use_cases.ledger_unavailable import LedgerUnavailable
from tests.builders import a_price
from tests.persistence.writing import record
from tests.reliability import sabotage

PAUSE = 0.004
LONGEST_MESSAGE = 2**17


def main() -> None:
    """Fork a server for every message, until there is nobody who could send one; then none is left."""
    gc.freeze()
    started, ended = set[int](), dict[int, int]()
    with socket.socket(fileno=int(sys.argv[1])) as line:
        while True:
            message, listening, *_ = socket.recv_fds(line, LONGEST_MESSAGE, 1)
            ended |= reaped()
            if not message:
                break
            told = json.loads(message)
            if "ended" in told:
                answer = ended.get(told["ended"])
            else:
                started.add(answer := forked(told, line, listening))
            line.send(json.dumps(answer).encode())
    for process in started - ended.keys():
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process, signal.SIGKILL)


def reaped() -> dict[int, int]:
    """How those ended that have ended since, by process."""
    found = {}
    with contextlib.suppress(ChildProcessError):
        while (child := os.waitpid(-1, os.WNOHANG))[0]:
            found[child[0]] = os.waitstatus_to_exitcode(child[1])
    return found


def forked(told: dict[str, Any], line: socket.socket, listening: list[int]) -> int:
    """The process that becomes what is told; in that process, never returns."""
    child = os.fork()
    if child == 0:
        line.close()
        become(told, listening)
    for descriptor in listening:
        os.close(descriptor)
    return child


def become(told: dict[str, Any], listening: list[int]) -> None:
    """Be something else from now on; never returns."""
    os.setsid()
    log = os.open(told["log"], os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    nothing = os.open(os.devnull, os.O_RDONLY)
    for source, target in ((nothing, 0), (log, 1), (log, 2)):
        os.dup2(source, target)
    os.environ.clear()
    os.environ.update(told["environment"])
    sabotage.apply(told["sabotage"])
    if "command" in told:
        exec(told.get("begin", ""), {})
        service.cli.commands.main(told["command"], prog_name="seamcost")
    if "writes" in told:
        write_until_killed(told["writes"], told["word"])
    sys.argv = ["gunicorn", *told["arguments"], *(f"--bind=fd://{descriptor}" for descriptor in listening)]
    code = 1
    try:
        gunicorn.app.wsgiapp.run()
        code = 0
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 1
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(code)


def write_until_killed(database_url: str, word: str) -> None:
    """Two prices a revision, in an endless row: says the revision and the number in the references once that is
    acknowledged. What is refused since another writer has the lock is written again; any other fault ends it, and is
    what its log has last. Between two writes it leaves the others a moment: a lock that is never free starves them."""
    ledger, written = SqlLedger(open_engines(database_url, pool_size=1)), 0
    while True:
        prices = [replace(a_price(), reference=f"{word}-{written}-{half}") for half in (1, 2)]
        with contextlib.suppress(LedgerUnavailable):
            os.write(1, f"{record(ledger, *prices)} {word}-{written}\n".encode())
            written += 1
        time.sleep(PAUSE)


if __name__ == "__main__":
    main()
