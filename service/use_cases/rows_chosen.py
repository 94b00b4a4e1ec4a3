"""Which rows of a proposal are to become prices: those named, or all clean ones, and those taken with a reason."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from service.domain.errors import Fault, Refused, WrongValue
from service.domain.price_review import Review
from service.domain.row_finding import Standing
from service.domain.rows_together import rivals

MOST_ROWS_NAMED = 200
"""How many rows a fault names, and how many faults are told at once: a list has up to 100 000 rows."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """Which rows: `rows` None is all clean ones; `overrides` are further rows, each with the reason for taking it.

    Shape:   `looks` and `reviewed_on` say which review was seen, as it says so itself; None: the last look, today.
    """

    rows: Sequence[int] | None
    overrides: Sequence[tuple[int, str]] = ()
    looks: int | None = None
    reviewed_on: date | None = None


def rows_chosen(seen: Review, chosen: Chosen) -> list[int]:
    """The numbers of the rows to be recorded, in the order of the file.

    Raises:  Refused with every row that cannot be taken, or WrongValue when there is none.
    """
    reasons = dict(chosen.overrides)
    faults = _faults_named(seen, chosen.rows or (), "#/rows/{}", reasons)
    faults += _faults_named(seen, [row for row, _ in chosen.overrides], "#/overrides/{}/row", reasons)
    faults += [WrongValue(f"Say why row {row} is taken.", f"#/overrides/{place}/reason", row=row)
               for place, (row, reason) in enumerate(chosen.overrides) if not reason.strip()][:MOST_ROWS_NAMED]
    if faults:
        raise Refused(faults)
    named = set(reasons) | (set(chosen.rows) if chosen.rows is not None else {
        one.row.number for one in seen.rows if one.standing is Standing.CLEAN})
    rows = sorted(named)
    if not rows:
        raise WrongValue("There is no row to accept: name rows, give overrides with reasons, or reject the proposal.",
                         "#/rows")
    if reasons:  # of clean rows no two are the price of one ingredient from one day
        _hold_to_one_each(seen, rows)
    return rows


def _faults_named(seen: Review, rows: Sequence[int], pointer: str, reasons: Mapping[int, str]) -> list[Fault]:
    """The faults of the rows named, each in its place: the first hundreds, since a list has up to 100 000."""
    faults: list[Fault] = []
    named: set[int] = set()
    for place, number in enumerate(rows):
        why = _why_not(seen, number, reasons)
        if why is None and number in named:
            why = f"Row {number} is named twice; name it once."
        named.add(number)
        if why is not None:
            faults.append(WrongValue(why, pointer.format(place), row=number))
        if len(faults) == MOST_ROWS_NAMED:
            break
    return faults


def _why_not(seen: Review, number: int, reasons: Mapping[int, str]) -> str | None:
    """Why a row that is named cannot be taken."""
    if not 1 <= number <= len(seen.rows):
        return f"There is no row {number}: the proposal has {len(seen.rows)}."
    one = seen.rows[number - 1]
    found = ", ".join(finding.code for finding in one.findings)
    if one.standing is Standing.BLOCKED:
        return f"Row {number} cannot become a price: {found}."
    if one.standing is Standing.UNCHANGED:
        return f"Row {number} is the price in force already; there is nothing to record."
    if one.standing is Standing.QUESTIONED and number not in reasons:
        return f"Row {number} needs a reason: {found}. Give it in overrides."
    return None


def _hold_to_one_each(seen: Review, rows: Sequence[int]) -> None:
    """Of rows that price the same ingredient from the same day, one at most."""
    taken = [seen.rows[row - 1] for row in rows]
    groups = rivals([one.price for one in taken])
    faults = [WrongValue(f"Rows {', '.join(str(taken[place].row.number) for place in places)} would each be the price "
                         f"of {ingredient}; take one of them.", "#/overrides")
              for (ingredient, _, _), places in groups.items()]
    if faults:
        raise Refused(faults)
