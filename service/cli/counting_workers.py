"""Counting over several workers: where they keep their counts, and what the parent does when one is gone."""

import os
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from service.watching.worker_files import make_folder, worker_gone


@contextmanager
def counting(wanted: bool, memory: Path) -> Iterator[Mapping[str, Any]]:
    """For the time of a server: gunicorn's hooks for it. The folder goes with the process that made it."""
    if not wanted:
        yield {}
        return
    made_by, folder = os.getpid(), make_folder(memory if memory.is_dir() else None)
    try:
        yield {"child_exit": lambda _arbiter, worker: worker_gone(worker.pid)}
    finally:
        if os.getpid() == made_by:  # and not a worker on its way out
            shutil.rmtree(folder, ignore_errors=True)
