"""What must be right in the lines of a recipe or dish, and in whatever else names another record."""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from service.domain.bounds import check_lines
from service.domain.breakdown import Breakdown, Output
from service.domain.errors import (
    Fault,
    LimitPassed,
    LossCannotBeUsed,
    MissingConversion,
    RetiredReference,
    UnknownReference,
    UnknownUnit,
    WrongValue,
)
from service.domain.history import record_on, recorded_last, version_in_force, versions_from
from service.domain.kitchen import PLURALS, Kitchen
from service.domain.loops import loop_fault
from service.domain.network import Key
from service.domain.quantity import Conversion, base_unit_of, convert
from service.domain.recipe import Line
from service.use_cases.standing import makers_of_cuts

Makers = Mapping[str, tuple[Breakdown, Output]]


def reference_fault(kitchen: Kitchen, kind: str, code: str, day: date) -> Fault | None:
    """Why a supplier, ingredient or recipe cannot be named from `day` on; None when it can."""
    history = getattr(kitchen, PLURALS[kind]).get(code)
    if not history:
        return UnknownReference(f"There is no {kind} {code!r}; record it first, or correct the code.")
    version = version_in_force(history, day)
    if version is None:
        starts = min(v.effective_from for v in history if v.effective_from is not None)
        return UnknownReference(
            f"{kind.capitalize()} {code!r} starts on {starts}; start this on that day, or start {code!r} earlier.")
    if version.retired or any(later.retired for later in versions_from(history, day)):
        return RetiredReference(f"{kind.capitalize()} {code!r} is retired; PUT it again to revive it, or use another.")
    return None


def cut_fault(kitchen: Kitchen, makers: Makers, code: str) -> Fault | None:
    """Why a cut cannot be used; None when a breakdown in use makes it."""
    if code in makers:
        return None
    for history in kitchen.breakdowns.values():
        output = recorded_last(history).record.output(code)
        if output is not None and not output.role.is_cut:
            return LossCannotBeUsed(
                f"{code!r} is a loss of breakdown {history[-1].record.code!r} and cannot be used; make it trim or a "
                "by-product there.")
    return UnknownReference(
        f"No breakdown in use makes the cut {code!r}; put one in use that does, or correct the code.")


def line_faults(lines: Sequence[Line], kitchen: Kitchen, day: date, itself: Key | None = None) -> list[Fault]:
    """Every fault of the lines of one record, each pointing at its field. `itself` is what no line may name."""
    try:
        check_lines(lines)
    except LimitPassed as passed:
        return [passed]
    makers = makers_of_cuts(kitchen, day)
    return [fault for number, line in enumerate(lines) for fault in (
        [loop_fault((line.uses, line.uses), f"#/lines/{number}/{line.uses[0]}")] if line.uses == itself
        else _faults_of(line, f"#/lines/{number}", kitchen, makers, day))]


def _faults_of(line: Line, pointer: str, kitchen: Kitchen, makers: Makers, day: date) -> list[Fault]:
    kind, code = line.uses
    faults: list[Fault] = []
    missing = cut_fault(kitchen, makers, code) if kind == "cut" else reference_fault(kitchen, kind, code, day)
    if missing is not None:
        faults.append(missing.at(f"{pointer}/{kind}"))
    else:
        faults.extend(_unit_faults(line, pointer, *_unit_and_conversions(kitchen, makers, kind, code, day)))
    faults.extend(_above_zero(line, pointer))
    return faults


def _unit_and_conversions(
    kitchen: Kitchen, makers: Makers, kind: str, code: str, day: date
) -> tuple[str, Sequence[Conversion]]:
    """The base unit of what a line uses on `day`, and the conversions that are its own."""
    if kind == "cut":
        return "kg", makers[code][1].conversions
    record: Any = record_on(getattr(kitchen, PLURALS[kind])[code], day)  # it stands: its reference has no fault
    return base_unit_of(record.base_unit if kind == "ingredient" else record.makes_unit), record.conversions


def _unit_faults(line: Line, pointer: str, base_unit: str, conversions: Sequence[Conversion]) -> list[Fault]:
    try:
        convert(Fraction(1), line.unit, base_unit, conversions)
    except (UnknownUnit, MissingConversion) as fault:
        return [fault.at(f"{pointer}/unit")]
    return []


def _above_zero(line: Line, pointer: str) -> list[Fault]:
    figures: Mapping[str, Decimal] = {
        "quantity": line.quantity, "yield_percent": line.yield_percent,
        "cooking_yield_percent": line.cooking_yield_percent}
    return [WrongValue(f"{name} is above zero; leave the line out if nothing is used.", f"{pointer}/{name}")
            for name, value in figures.items() if value <= 0]
