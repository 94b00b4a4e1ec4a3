"""What a benchmark finds: a ratio or an amount of every round, and the one table that shows them all with their spread.

Rules that always hold: a figure is shown no finer than its spread; an aim is met, or missed, only where every round
says so, and is open otherwise; what was measured by the clock of a machine that others use is marked as such.
"""

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from math import floor, log10
from statistics import median
from typing import TypeVar

T = TypeVar("T")
PROCESSOR, CLOCK, SIZE = "processor", "clock", "size"
RATIO = "x"
UNSETTLED = "unsettled"
"""Instead of a figure that is smaller than the spread between its rounds."""
SIZES = ("smallest", "quick", "full")
HEADINGS = ("benchmark", "what", "against", "median", "least..most", "aim", "met", "by")


@dataclass(frozen=True)
class Asked:
    """How large a benchmark is asked for, and in how many rounds."""

    size: str
    rounds: int

    def of(self, smallest: T, quick: T, full: T) -> T:
        """The value for the size that is asked for."""
        return dict(zip(SIZES, (smallest, quick, full), strict=True))[self.size]


@dataclass(frozen=True)
class Result:
    """One row of the table.

    Shape:   `values` has one of each round; `against` is empty for an amount, whose `unit` says what of.
    Units:   a ratio (`x`) unless said; `by` says what was measured: processor time, the clock, or a size.
    """

    what: str
    against: str
    values: tuple[float, ...]
    unit: str = RATIO
    by: str = PROCESSOR
    at_most: float | None = None
    at_least: float | None = None

    @property
    def aim(self) -> str:
        """What it should be, in words; empty where nothing was promised."""
        said = [f"at most {self.at_most:g}"] if self.at_most is not None else []
        return " and ".join(said + ([f"at least {self.at_least:g}"] if self.at_least is not None else []))

    @property
    def met(self) -> str:
        """Whether every round met the aim, or none did; `open` where the spread lies across it."""
        if not self.aim:
            return ""
        met = [(self.at_most is None or value <= self.at_most) and (self.at_least is None or value >= self.at_least)
               for value in self.values]
        return "met" if all(met) else "missed" if not any(met) else "open"

    def cells(self, benchmark: str) -> tuple[str, ...]:
        """The row as the table shows it."""
        least, most = min(self.values), max(self.values)
        told = shown(median(self.values), most - least) + ("" if self.unit == RATIO else f" {self.unit}")
        spread = f"{shown(least, most - least)}..{shown(most, most - least)}" if len(self.values) > 1 else "one round"
        return (benchmark, self.what, self.against, told if most - least < median(self.values) or least == most else
                UNSETTLED, spread, self.aim, self.met, self.by)


def shown(value: float, spread: float) -> str:
    """A figure of three digits, of fewer where the spread is wider than the last of them.

    Example: 2.3456 within 2.1..2.6 is 2.3; 1234 within 800..1600 is 1200.
    """
    if not value:
        return "0"
    places = 2 - floor(log10(abs(value)))
    if spread > 0:
        places = min(places, -floor(log10(spread)))
    rounded = round(value, places)
    return f"{rounded:,.{max(0, places)}f}".replace(",", " ")


def ratios(ours: Sequence[float], theirs: Sequence[float]) -> tuple[float, ...]:
    """Ours over theirs, round by round."""
    return tuple(mine / other for mine, other in zip(ours, theirs, strict=True))


def percentile(values: Sequence[float], percent: float) -> float:
    """The value below which so many percent lie: of those there are, the nearest rank."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(len(ordered) * percent / 100))]


def as_line(result: Result) -> str:
    """A result as one line of JSON."""
    return json.dumps(asdict(result))


def from_line(line: str) -> Result:
    """The result of such a line."""
    told = json.loads(line)
    return Result(**told | {"values": tuple(told["values"])})


def table(rows: Iterable[tuple[str, Result]]) -> Iterator[str]:
    """The lines of the table, as Markdown that can also be read as it is."""
    cells = [HEADINGS, *(result.cells(benchmark) for benchmark, result in rows)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(HEADINGS))]
    ruled = [cells[0], tuple("-" * width for width in widths), *cells[1:]]
    for row in ruled:
        yield "| " + " | ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) + " |"
