"""The machine that a benchmark runs on: what it is, and how busy others keep it; what its processes hold.

Source: proc(5): /proc/stat, /proc/PID/stat, /proc/PID/smaps_rollup, /proc/PID/fd.
"""

import os
import platform
import time
from dataclasses import dataclass
from pathlib import Path

import numpy

from service.persistence import sqlite_engine

KIB_PER_MB = 1024
QUIET = 0.1


def machine() -> str:
    """The machine in a sentence."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    return (f"{os.cpu_count()} cores of {platform.machine()}, {memory:.0f} GiB, {platform.system()}; Python "
            f"{platform.python_version()}, SQLite {sqlite_engine.driver().sqlite_version}, numpy {numpy.__version__}.")


def busy(seconds: float = 1) -> float:
    """What part of all cores was at work over so long, while we wait."""
    before = _ticks()
    time.sleep(seconds)
    idle, every = (after - was for after, was in zip(_ticks(), before, strict=True))
    return 1 - idle / every if every else 0.0


def _ticks() -> tuple[int, int]:
    numbers = [int(word) for word in Path("/proc/stat").read_text().splitlines()[0].split()[1:9]]
    return numbers[3] + numbers[4], sum(numbers)


@dataclass(frozen=True)
class Memory:
    """What a process holds, in MB: resident, its share of what it shares, and what is its alone."""

    resident: float
    share: float
    own: float


def memory_of(process: int) -> Memory:
    """The memory of a process. What is shared is counted in parts in `share`, so that these add up."""
    kib = {line.split(":")[0]: int(line.split()[1])
           for line in Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()[1:]}
    own = kib["Private_Clean"] + kib["Private_Dirty"]
    return Memory(kib["Rss"] / KIB_PER_MB, kib["Pss"] / KIB_PER_MB, own / KIB_PER_MB)


def resident_mb() -> float:
    """What this process holds now."""
    return memory_of(os.getpid()).resident


def descriptors_of(process: int) -> int:
    """How many files and sockets a process has open."""
    return len(list(Path(f"/proc/{process}/fd").iterdir()))


def children_of(process: int) -> list[int]:
    """The processes that a process has started: the workers of a server."""
    return [int(pid) for pid in Path(f"/proc/{process}/task/{process}/children").read_text().split()]
