"""Counting over several workers: where they keep their counts, and what the parent does when one is gone."""

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from service.watching.worker_files import make_folder, worker_gone


@contextmanager
def counting(wanted: bool, memory: Path) -> Iterator[Callable[[int], None]]:
    """For the time of a server: what its parent calls for a worker that is gone. The folder goes with the process that
    made it."""
    if not wanted:
        yield lambda _pid: None
        return
    made_by, folder = os.getpid(), make_folder(memory if memory.is_dir() else None)
    try:
        yield worker_gone
    finally:
        if os.getpid() == made_by:  # and not a worker on its way out
            shutil.rmtree(folder, ignore_errors=True)
