"""The process in which one foreign file is read. Run as a script; see `cage`, which starts it.

It knows nothing of the service: what it may use arrives as one JSON argument, what is asked as the first line of its
standard input and the file as the rest of it, and what it read leaves as lines on its standard output. Before it has
seen a byte of the file it takes its own rights away: memory, processor seconds, its turn, new files, new processes,
and (every descriptor that it may have being taken) the network.

It reads all of its input before it says anything, so that the two ends never wait for each other.

Modules here import as little as they can (not even `typing`): every file waits for it.
"""

import json
import os
import resource
import sys
from importlib import import_module
from io import BytesIO

BEHIND_THE_SERVICE = 5
"""How far behind its parent's the child's priority is: where both want a processor it has a quarter of it."""


def limit(what: int, value: int, grace: int = 0) -> None:
    """Lowers a limit for good; one that is lower already stays. `grace` is how far the hard limit lies above it."""
    _, hard = resource.getrlimit(what)
    hardest = value + grace if hard == resource.RLIM_INFINITY else min(value + grace, hard)
    resource.setrlimit(what, (min(value, hardest), hardest))


def confine(memory_bytes: int, cpu_seconds: int) -> None:
    """What can be limited before the reader is loaded."""
    limit(resource.RLIMIT_AS, memory_bytes)
    # At the soft limit comes a signal of its own, so that it can be told from other ends; at the hard one SIGKILL.
    limit(resource.RLIMIT_CPU, cpu_seconds, grace=1)
    limit(resource.RLIMIT_CORE, 0)
    limit(resource.RLIMIT_FSIZE, 0)
    # Tills go first: a file may take ten seconds of a processor, a poll is to take none of a till's patience.
    os.nice(BEHIND_THE_SERVICE)


def close_the_doors() -> None:
    """No descriptor beyond the three standard ones, so no file and no socket; no process (but for root, who may)."""
    limit(resource.RLIMIT_NOFILE, 3)
    limit(resource.RLIMIT_NPROC, 0)


def say(**what: object) -> None:
    """One line of JSON to the one who asked."""
    sys.stdout.buffer.write(json.dumps(what).encode() + b"\n")
    sys.stdout.buffer.flush()


def read(reader: str, folders: list[str]) -> None:
    """Loads the reader, waits for the file, and lets it read. Whoever waits in vain goes in silence."""
    sys.path.extend(folders)
    try:
        found = import_module(f"service.integrations.price_lists.caged.{reader}")
        close_the_doors()
        asked = sys.stdin.buffer.readline()
        if not asked:
            return
        for line in found.read(BytesIO(sys.stdin.buffer.read()), json.loads(asked)):
            sys.stdout.buffer.write(line)
            if line.startswith(b"{"):
                sys.stdout.buffer.flush()
        say(end=True)
    except MemoryError:
        say(fault="memory")
    except BrokenPipeError:
        os._exit(0)
    except Exception as fault:
        say(fault=getattr(fault, "word", "damaged"), text=str(fault)[:300], limit=getattr(fault, "limit", 0))


if __name__ == "__main__":
    orders = json.loads(sys.argv[1])
    confine(orders["memory_bytes"], orders["cpu_seconds"])
    read(orders["reader"], orders["folders"])
