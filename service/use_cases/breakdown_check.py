"""What must be right before a breakdown is kept, and which other breakdowns it takes over from."""

from collections.abc import Sequence
from datetime import date
from fractions import Fraction
from typing import Any

from service.domain.balance import check_breakdown
from service.domain.bounds import check_lines
from service.domain.breakdown import Breakdown
from service.domain.errors import CutMadeTwice, Fault, LimitPassed, MissingConversion
from service.domain.history import record_on, recorded_last, versions_from
from service.domain.kitchen import Kitchen
from service.domain.quantity import convert
from service.domain.take_over import taken_over_by
from service.use_cases.kinds import Change
from service.use_cases.line_checks import cut_fault, reference_fault
from service.use_cases.standing import makers_of_cuts


def breakdown_faults(change: Change, kitchen: Kitchen) -> Sequence[Fault]:
    """Every fault of a breakdown by itself, of its input, and of cuts that another will be making later."""
    breakdown: Breakdown = change.record
    try:
        check_lines(breakdown.outputs, "#/outputs")
    except LimitPassed as passed:
        return [passed]
    return [*check_breakdown(breakdown), *_input_faults(change, kitchen), *_made_twice(change, kitchen)]


def taken_over(change: Change, kitchen: Kitchen) -> Sequence[tuple[str, Any]]:
    """The breakdowns in use that make the same cuts: put out of use in the same revision."""
    return [(other.code, other) for other in taken_over_by(change.record, kitchen, change.day)]


def made_by_no_other_before(change: Change, kitchen: Kitchen) -> bool:
    """Whether no other breakdown ever made one of its cuts: then it may hold on every earlier day too."""
    cuts = {output.cut for output in change.record.cuts}
    versions = (version for code, history in kitchen.breakdowns.items() if code != change.code for version in history)
    return not any(version.record.in_use and cuts & {output.cut for output in version.record.cuts}
                   for version in versions)


def _made_twice(change: Change, kitchen: Kitchen) -> list[Fault]:
    """Cuts that a version of another breakdown makes too, which starts while the change still holds."""
    breakdown: Breakdown = change.record
    if not breakdown.in_use:
        return []
    until = _start_of_its_next(change, kitchen)
    makers = {
        output.cut: (other.code, version.effective_from)
        for code, history in kitchen.breakdowns.items() if code != change.code
        for version in versions_from(history, change.day)
        if version.effective_from is not None and change.day < version.effective_from < until
        and not version.retired
        for other in (version.record,) if other.in_use for output in other.cuts}
    return [
        CutMadeTwice(f"{output.cut!r} will be made by breakdown {makers[output.cut][0]!r} too, from "
                     f"{makers[output.cut][1]}; put it out of use from that day first.", f"#/outputs/{number}/cut")
        for number, output in enumerate(breakdown.outputs) if output.role.is_cut and output.cut in makers]


def _start_of_its_next(change: Change, kitchen: Kitchen) -> date:
    """The day from which a version of the breakdown's own that is scheduled already holds instead.

    One that is revived takes the place of the retirements that were scheduled for it.
    """
    history = kitchen.breakdowns.get(change.code, ())
    revived = record_on(history, change.day) is None
    starts = (version.effective_from for version in history if not (revived and version.retired))
    return min((start for start in starts if start is not None and start > change.day), default=date.max)


def _input_faults(change: Change, kitchen: Kitchen) -> list[Fault]:
    source = change.record.input
    if source.cut is not None:
        own = {output.cut for output in change.record.cuts}
        missing = None if source.cut in own else cut_fault(kitchen, makers_of_cuts(kitchen, change.day), source.cut)
        return [missing.at("#/input/cut")] if missing is not None else []
    missing = reference_fault(kitchen, "ingredient", source.ingredient or "", change.day)
    if missing is not None:
        return [missing.at("#/input/ingredient")]
    ingredient = recorded_last(kitchen.ingredients[source.ingredient]).record
    try:
        convert(Fraction(1), ingredient.base_unit, "kg", ingredient.conversions)
    except MissingConversion as fault:
        return [fault.at("#/input/ingredient")]
    return []
