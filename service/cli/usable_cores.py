"""How many cores this process may use: what its affinity and its control group leave of those that the machine has.

A container that may use two cores of sixty-four has two: workers by the machine's number would each bring their memory
and their connections to the database.

Source: sched_getaffinity(2); the kernel's documentation of control groups: `cpu.max` of version 2, `cpu.cfs_quota_us`
and `cpu.cfs_period_us` of version 1.
"""

import os
from contextlib import suppress
from math import ceil
from pathlib import Path

CONTROL_GROUP = Path("/sys/fs/cgroup")


def usable_cores(control_group: Path = CONTROL_GROUP) -> int:
    """Whole cores, at least one; a part of one that is allowed counts as one."""
    affinity = getattr(os, "sched_getaffinity", None)  # Linux's
    there = len(affinity(0)) if affinity is not None else os.cpu_count() or 1
    return max(1, min(there, _allowed(control_group) or there))


def _allowed(group: Path) -> int | None:
    """What the control group allows; None where it sets no bound."""
    for read in (lambda: (group / "cpu.max").read_text().split(),
                 lambda: [(group / "cpu" / f"cpu.cfs_{name}_us").read_text() for name in ("quota", "period")]):
        with suppress(OSError, ValueError, ZeroDivisionError):
            quota, period = map(int, read())  # `max`, where there is no bound, is no number
            return ceil(quota / period) if quota > 0 else None
    return None
