"""Every benchmark, by its module, in the order of the table; and the run of one of them in a process of its own.

A benchmark is a module of this folder with a function `results(asked)` that yields a `Result` a row. It runs in a
process of its own, so that none is measured in the memory or with the caches of another.
"""

import importlib
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.benchmarks.results import Asked, Result, from_line

TOP = Path(__file__).resolve().parents[2]
BENCHMARKS = (
    "recompute", "what_if", "price_movements", "theoretical_food_cost", "workbook", "price_lists", "http", "visible",
    "waiting", "watched", "board", "what_if_page", "scale", "mixed_load", "guards", "unit_costs")
NOT_HERE = 3
"""The exit status of a benchmark that needs something which is not on this machine."""


class NotRun(Exception):
    """A benchmark that could not be run, and why."""


def results_of(name: str) -> Callable[[Asked], Iterator[Result]]:
    """What a benchmark's module gives."""
    found: Callable[[Asked], Iterator[Result]] = importlib.import_module(f"tests.benchmarks.{name}").results
    return found


def run(name: str, asked: Asked, seconds: float = 3600) -> list[Result]:
    """Run a benchmark in a process of its own. What it prints on its way goes to our standard error.

    Raises:  NotRun.
    """
    with tempfile.NamedTemporaryFile("r") as told:
        command = [sys.executable, "-m", "tests.benchmarks", name, "--size", asked.size, "--rounds", str(asked.rounds),
                   "--into", told.name]
        environment = {key: value for key, value in os.environ.items() if key != "OPENBLAS_NUM_THREADS"}
        done = subprocess.run(command, cwd=TOP, env=environment | {"OMP_NUM_THREADS": "1"}, stdout=sys.stderr,
                              timeout=seconds, check=False)
        if done.returncode:
            raise NotRun(f"{name} ended with {done.returncode}")
        return [from_line(line) for line in told]
