"""Starts the service again and again without importing it each time: `python -m tests.reliability.launcher`.

It holds the port, imports what the workers run, and forks: each child is a gunicorn of its own process group, whose
workers make their own application, as those of a fresh start do. A start costs a part of a fresh one that way, and
thousands of kills become affordable.

It prints the port, then reads a line of JSON a start (`arguments`, `environment`, `log`, `sabotage`), and prints the
process that it became. With `writes` in place of `arguments`, the process writes to that ledger without any HTTP, as
fast as it goes, until it is killed; its log has a line for each write that was acknowledged.
"""

import contextlib
import gc
import json
import os
import signal
import socket
import sys
import time
from dataclasses import replace
from typing import Any

import gunicorn.app.wsgiapp
import gunicorn.workers.gthread

import service.wiring  # noqa: F401
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.use_cases.ledger_unavailable import LedgerUnavailable
from tests.builders import a_price
from tests.persistence.writing import record
from tests.reliability import sabotage

PAUSE = 0.004


def main() -> None:
    """Hold a port, and fork a server for every line."""
    gc.freeze()
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    with socket.create_server(("127.0.0.1", 0), backlog=256) as listening:
        print(listening.getsockname()[1], flush=True)
        for line in sys.stdin:
            told = json.loads(line)
            child = os.fork()
            if child == 0:
                become_server(told, listening.fileno())
            print(child, flush=True)


def become_server(told: dict[str, Any], descriptor: int) -> None:
    """Be a gunicorn from now on; never returns."""
    os.setsid()
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    log = os.open(told["log"], os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    nothing = os.open(os.devnull, os.O_RDONLY)
    for source, target in ((nothing, 0), (log, 1), (log, 2)):
        os.dup2(source, target)
    os.environ.update(told["environment"])
    sabotage.apply(told["sabotage"])
    if "writes" in told:
        write_until_killed(told["writes"], told["word"])
    sys.argv = ["gunicorn", *told["arguments"], "-b", f"fd://{descriptor}"]
    code = 1
    try:
        gunicorn.app.wsgiapp.run()
        code = 0
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 1
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
