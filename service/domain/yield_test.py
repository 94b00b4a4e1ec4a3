"""A yield test (butcher's test): the weights of one real breakdown."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from service.domain.history import Mark
from service.domain.price import Withdrawal


@dataclass(frozen=True, slots=True)
class WeighedOutput:
    """What one output weighed, in the test's unit. Zero says that there was none."""

    cut: str
    weight: Decimal


@dataclass(frozen=True, slots=True)
class YieldTest:
    """One test as recorded. `set_aside` tests do not count and stay visible.

    Units: weights in `unit` (a unit of mass); `input_weight` is the weight paid for, `opened_weight` after draining;
    `minutes` for the whole test.
    """

    breakdown: str
    tested_on: date
    unit: str
    input_weight: Decimal
    outputs: tuple[WeighedOutput, ...]
    made: Mark
    opened_weight: Decimal | None = None
    minutes: Decimal | None = None
    pieces: int = 1
    butcher: str = ""
    supplier: str | None = None
    grade: str = ""
    note: str = ""
    set_aside: Withdrawal | None = None

    @property
    def id(self) -> str:
        """The test's public name: the revision and entry that made it."""
        return f"{self.made.revision}-{self.made.entry}"

    @property
    def cuts(self) -> frozenset[str]:
        return frozenset(output.cut for output in self.outputs)
