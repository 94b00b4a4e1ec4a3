"""The frame of the breaking programme: what a part of it is, what a run of it is told, and what it finds.

Each part is a module of this folder that gives one `Programme`; `every_programme.py` lists them. The same function runs
short in a test (`test_<module>.py`, at most `short` cases) and long by hand:

    python -m tests.reliability NAME [--engine sqlite] [--cases 500] [--minutes 30] [--seed 1] [--sabotage SWITCH]

A verdict counts what was done and names every fault found. A part whose check could not fail is no check: each says
under `sabotages` which breaks of the service (sabotage.py) it must turn red for, and a test shows that it does.
"""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ENGINES = ("sqlite", "postgresql")


@dataclass(frozen=True)
class Run:
    """What a run is told. `database_url` is a migrated, empty ledger; `folder` is its own; `sabotage` breaks the
    service on purpose."""

    cases: int
    database_url: str
    folder: Path
    seed: int = 1
    until: float = float("inf")
    sabotage: str = ""
    server: Any = None
    """The PostgresServer, where the engine is PostgreSQL."""

    @property
    def engine(self) -> str:
        """One of ENGINES."""
        return self.database_url.partition(":")[0].partition("+")[0]

    @property
    def in_time(self) -> bool:
        """Whether there is time for another case (`until` is by the monotonic clock)."""
        return time.monotonic() < self.until


@dataclass(frozen=True)
class Verdict:
    """What a run found: how many cases it had, what was wrong (nothing, when all is well), and figures to tell."""

    cases: int
    faults: tuple[str, ...] = ()
    figures: Mapping[str, object] = field(default_factory=dict)

    @property
    def passed(self) -> bool:
        """Nothing wrong, and something was looked at."""
        return self.cases > 0 and not self.faults


@dataclass(frozen=True)
class Programme:
    """One part of the breaking programme.

    `row` is its row of the table in DEVELOPERS.md; `unit` what a case is; `short` and `long` how many cases a run in
    the tests and the long run have.
    """

    name: str
    row: str
    promise: str
    unit: str
    short: int
    long: int
    run: Callable[[Run], Verdict]
    engines: tuple[str, ...] = ENGINES
    sabotages: tuple[str, ...] = ()
