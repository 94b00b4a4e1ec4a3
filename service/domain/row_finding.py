"""What a person should look at in a row of a price list, and how much it weighs.

A finding that *blocks* says why the row cannot become a price; one that *asks* needs a person's reason before it does;
one that *tells* leaves the row as it is. Every code is stable; the sentence says what was seen, and the mend.
"""

from collections.abc import Iterable
from enum import IntEnum, StrEnum
from typing import NamedTuple


class Weight(IntEnum):
    """How much a finding weighs; the heaviest decides where its row stands."""

    TELLS = 0
    ASKS = 1
    BLOCKS = 2


class Standing(StrEnum):
    """What may become of a row: `unchanged` rows have nothing to record, `questioned` ones need a reason."""

    CLEAN = "clean"
    UNCHANGED = "unchanged"
    QUESTIONED = "questioned"
    BLOCKED = "blocked"


UNCHANGED = "price_unchanged"


class RowFinding(NamedTuple):
    """One thing to look at."""

    code: str
    detail: str
    weight: Weight


def blocks(code: str, detail: str) -> RowFinding:
    return RowFinding(code, detail, Weight.BLOCKS)


def asks(code: str, detail: str) -> RowFinding:
    return RowFinding(code, detail, Weight.ASKS)


def tells(code: str, detail: str) -> RowFinding:
    return RowFinding(code, detail, Weight.TELLS)


def standing_of(findings: Iterable[RowFinding]) -> Standing:
    """Where a row with these findings stands."""
    heaviest = max((finding.weight for finding in findings), default=Weight.TELLS)
    if heaviest is Weight.BLOCKS:
        return Standing.BLOCKED
    if any(finding.code == UNCHANGED for finding in findings):
        return Standing.UNCHANGED
    return Standing.QUESTIONED if heaviest is Weight.ASKS else Standing.CLEAN
