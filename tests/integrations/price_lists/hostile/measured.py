"""Reads one file as the service does, in a process of its own, and prints what came of it and what it took.

Run as `python -m tests.integrations.price_lists.hostile.measured FILE`. Printed as JSON: `outcome` (the fault's class,
or "read"), `detail`, `why`; `wall_seconds`; `cpu_seconds` and `peak_mib`, both of this process and of the reader that
it started, together. Loading the service is not counted; the memory that it takes is.
"""

import json
import resource
import sys
import time
from pathlib import Path

from service.domain.errors import Fault
from service.integrations.price_lists.reading import read_price_file
from service.use_cases.price_files import HowToRead


def spent() -> float:
    """Seconds that processors have worked for this process and for the children that have ended."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(each.ru_utime + each.ru_stime for each in used)


def peak_mib() -> float:
    """The most memory that this process and its largest child held, added up as if they had at one moment.

    What the kernel counts as a process's peak includes its parent's at the time it was started (getrusage(2), ru_maxrss
    outlives exec), which here is the test runner's: for this process the peak of its own memory is read instead. The
    child's includes this process's, so the sum is on the safe side.
    """
    own = next(line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmHWM:"))
    return (int(own.split()[1]) + resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss) / 1024


def measure(content: bytes) -> dict[str, object]:
    """What came of a file, and what it took."""
    before, begun = spent(), time.perf_counter()
    try:
        said = read_price_file(content, HowToRead({}))
        came = {"outcome": "read", "detail": f"{len(said.rows)} rows", "why": ""}
    except Fault as fault:
        came = {"outcome": type(fault).__name__, "detail": fault.detail, "why": str(fault.more.get("why", ""))}
    took = {"wall_seconds": time.perf_counter() - begun, "cpu_seconds": spent() - before, "peak_mib": peak_mib()}
    return {**came, **took}


if __name__ == "__main__":
    print(json.dumps(measure(Path(sys.argv[1]).read_bytes())))
