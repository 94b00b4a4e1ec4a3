"""The working: how a figure came about, step by step, so that anybody can add it up again.

A step takes numbers in, does one thing with them (adds, multiplies, rounds ...) and gives one number out. A number in
is either recorded or the outcome of another step; what several steps rest on is told once and referred to afterwards,
so that a working grows with the records below it and never with the ways through them. Rules that always hold:

- a step's outcome is computed from the exact numbers in, and shown to 10 decimals;
- every step adds up again: its operation, done on its numbers as carried, gives its outcome to within 1e-10. Ten
  decimals cannot promise that of a product, so that all numbers are carried to as many decimals as make it true;
- a step whose numbers in are not all known, or that has a gap of its own, has no outcome, and nothing above it has;
- nothing recurses.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from fractions import Fraction
from typing import Any

from service.domain.findings import Gap
from service.domain.rounding import published, rounded_up_to, text

SHOWN_PLACES = 10
CLOSE = Fraction(1, 10**10)
NIL = Fraction(0)
ONE = Fraction(1)
StepKey = tuple[str, ...]


class How(StrEnum):
    """What an operation does with a number in. Rounding takes the first and goes by the second."""

    ADD = "add"
    SUBTRACT = "subtract"
    MULTIPLY = "multiply"
    DIVIDE = "divide"
    TAKE = "take"
    BY = "by"


class Operation(StrEnum):
    """What a step does: each is one line of arithmetic over its numbers in, in their order."""

    GIVEN = "given"
    SUM = "sum"
    PRODUCT = "product"
    NOT_BELOW_ZERO = "not_below_zero"
    ROUND = "round"
    ROUND_UP = "round_up"


Operands = Sequence[tuple[How, Fraction]]


def _sum(operands: Operands) -> Fraction:
    return sum((value if how is How.ADD else -value for how, value in operands), NIL)


def _product(operands: Operands) -> Fraction:
    outcome = ONE
    for how, value in operands:
        outcome = outcome * value if how is How.MULTIPLY else outcome / value
    return outcome


_DOING: Mapping[Operation, Callable[[Operands], Fraction]] = {
    Operation.GIVEN: lambda operands: operands[0][1],
    Operation.SUM: _sum,
    Operation.PRODUCT: _product,
    Operation.NOT_BELOW_ZERO: lambda operands: max(operands[0][1], NIL),
    Operation.ROUND: lambda operands: Fraction(published(operands[0][1], int(operands[1][1]))),
    Operation.ROUND_UP: lambda operands: rounded_up_to(operands[0][1], operands[1][1]),
}


def outcome_of(operation: Operation, operands: Operands) -> Fraction:
    """What the operation makes of the numbers in.

    Raises:  ZeroDivisionError for a product that divides by nil.
    Example: a product that multiplies 800 and divides by 0.75 is 1066.67.
    """
    return _DOING[operation](operands)


@dataclass(frozen=True, slots=True)
class RecordUsed:
    """The version of a record that a step rests on. `revision` None: not recorded, the defaults hold.

    Shape:   `more` says what a version alone does not: of a price its name, supplier and period, of yields the tests
             that count; ready for JSON.
    """

    kind: str
    code: str
    name: str
    revision: int | None
    effective_from: date | None = None
    more: Mapping[str, Any] = field(default_factory=dict, compare=False, hash=False)


@dataclass(frozen=True, slots=True)
class Part:
    """A number that goes into a step. `step` is the one whose outcome it is; None: recorded, or a known factor."""

    name: str
    value: Fraction | None
    how: How
    unit: str = ""
    step: StepKey | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One step: `formula` says in words what `operation` does with `parts`. `outcome` None: not known."""

    key: StepKey
    what: str
    record: RecordUsed
    formula: str
    operation: Operation
    parts: tuple[Part, ...]
    outcome: Fraction | None
    unit: str = ""
    gaps: tuple[Gap, ...] = ()
    note: str = ""

    @property
    def children(self) -> tuple[StepKey, ...]:
        """The steps that the numbers in come from, each once."""
        return tuple(dict.fromkeys(part.step for part in self.parts if part.step is not None))

    @property
    def places(self) -> int:
        """With how many decimals the outcome is shown: a rounded one with its own."""
        by = self.parts[1].value if self.operation is Operation.ROUND else None
        return SHOWN_PLACES if by is None else int(by)

    def adds_up(self, places: int) -> bool:
        """Whether the numbers in, carried to so many decimals, give the shown outcome to within 1e-10."""
        known = [(part.how, to_places(part.value, places)) for part in self.parts if part.value is not None]
        if self.outcome is None:
            return True
        try:
            again = outcome_of(self.operation, known)
        except ZeroDivisionError:
            return False
        return abs(again - to_places(self.outcome, self.places)) <= CLOSE


class Steps:
    """The steps of a working while it is written; a step is added after those that it rests on, and once."""

    def __init__(self) -> None:
        self._steps: dict[StepKey, Step] = {}

    def __contains__(self, key: StepKey) -> bool:
        return key in self._steps

    def __getitem__(self, key: StepKey) -> Step:
        return self._steps[key]

    def add(self, key: StepKey, what: str, record: RecordUsed, formula: str, operation: Operation,
            parts: Iterable[Part], unit: str = "", gaps: Iterable[Gap] = (), note: str = "") -> StepKey:
        """Add a step and say its key. With a gap, or a part that is not known, it has no outcome."""
        listed, missing = tuple(parts), tuple(gaps)
        operands = [(part.how, part.value) for part in listed if part.value is not None]
        known = not missing and len(operands) == len(listed)
        outcome = outcome_of(operation, operands) if known else None
        self._steps[key] = Step(key, what, record, formula, operation, listed, outcome, unit, missing, note)
        return key

    def part(self, key: StepKey, how: How, name: str = "") -> Part:
        """The outcome of a step, as a number that goes into another."""
        step = self._steps[key]
        return Part(name or step.what, step.outcome, how, step.unit, key)

    def below(self, root: StepKey, told: set[StepKey]) -> list[Step]:
        """The step and all it rests on that is not told yet, each after what it rests on; marks them as told."""
        order: list[Step] = []
        trail = [(root, iter(self._steps[root].children))]
        told.add(root)
        while trail:
            key, rest = trail[-1]
            child = next((each for each in rest if each not in told), None)
            if child is None:
                trail.pop()
                order.append(self._steps[key])
            else:
                told.add(child)
                trail.append((child, iter(self._steps[child].children)))
        return order


def to_places(value: Fraction, places: int) -> Fraction:
    """The value rounded to so many decimals, half away from zero. Integers throughout: it is done for every number."""
    scale = 10**places
    if scale % value.denominator == 0:
        return value
    units = (2 * abs(value.numerator) * scale + value.denominator) // (2 * value.denominator)
    return Fraction(units if value >= 0 else -units, scale)


def decimals_to_carry(steps: Sequence[Step]) -> int:
    """The number of decimals, at least 10, at which every one of the steps adds up again."""
    places = SHOWN_PLACES
    while True:
        needed = max((_enough_for(step, places) for step in steps), default=places)
        if needed == places:
            return places
        places = needed


def shown(value: Fraction | None, places: int = SHOWN_PLACES) -> str | None:
    """A number as it is shown: to 10 decimals; None where it is not known."""
    return None if value is None else text(published(value, places))


def carried(value: Fraction | None, places: int) -> str | None:
    """A number as it is carried, without the zeros at its end."""
    if value is None:
        return None
    whole = text(published(value, places))
    return whole.rstrip("0").rstrip(".") or "0"


def _enough_for(step: Step, places: int) -> int:
    while not step.adds_up(places):
        places += 2
    return places
