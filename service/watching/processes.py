"""The processes of a server, as the system tells them: how many workers, and how much memory they have.

Source: proc(5): `statm`, and `children` of the main thread, where the kernel has it.
"""

import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from prometheus_client.core import GaugeMetricFamily, Metric

_PAGE = os.sysconf("SC_PAGE_SIZE")


def process_metrics(parent: int) -> Iterator[Metric]:
    """Of the workers of one parent; nothing where the system does not tell."""
    try:
        pids = [int(pid) for pid in Path(f"/proc/{parent}/task/{parent}/children").read_text().split()]
    except OSError:
        return
    resident = [size for pid in pids if (size := _resident(pid))]
    yield GaugeMetricFamily("seamcost_workers", "Worker processes.", len(resident))
    memory = GaugeMetricFamily("seamcost_resident_memory_bytes", "Resident memory: of the workers together, of the "
                               "largest, of their parent.", labels=("process",))
    for name, size in (("workers", sum(resident)), ("largest_worker", max(resident, default=0)),
                       ("parent", _resident(parent))):
        memory.add_metric((name,), size)
    yield memory


def _resident(pid: int) -> int:
    with suppress(OSError, ValueError, IndexError):
        return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * _PAGE
    return 0
