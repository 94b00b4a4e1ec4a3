"""Whether a file was written within so many seconds, `python -m service.cli.fresh FILE SECONDS`: a health check.

What keeps running without a port, the deliverer and the backup, writes a file whenever its work came through; a health
check asks every half minute, so this is no command of `seamcost`, which imports all of the service before it asks.
Exit status 0 where it is fresh, else 1, and one sentence either way, which an engine keeps beside the state.
"""

import sys
import time
from pathlib import Path


def age_told(file: Path, seconds: float, now: float) -> tuple[bool, str]:
    """Whether a file is that fresh, and a sentence about it. Units: seconds; `now` since the epoch."""
    try:
        age = now - file.stat().st_mtime
    except OSError as error:
        return False, f"{file}: {error.strerror}."
    return age <= seconds, f"{file} was written {age:.0f} s ago; it may be {seconds:g}."


if __name__ == "__main__":
    is_fresh, told = age_told(Path(sys.argv[1]), float(sys.argv[2]), time.time())
    print(told)
    sys.exit(not is_fresh)
