"""Read the comparison of a breakdown: its methods, other breakdowns of its input, breaking or buying, finishing.

What is said to be used is held to what comes off: as the cutting sheet publishes it, so that what it says can be used.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from service.domain.break_or_buy import BreakOrBuy
from service.domain.breakdown import Breakdown, Output
from service.domain.breakdown_pools import input_cost, pools_of
from service.domain.breakdown_value import value_of
from service.domain.comparison_of_breakdowns import of_the_same_input, side_by_side
from service.domain.comparison_of_methods import under_all_methods
from service.domain.cut_figures import CutSheet
from service.domain.cutting_sheet import cutting_sheet
from service.domain.errors import Fault, LossCannotBeUsed, NotFound, OutputTwice, Refused, UnknownReference, WrongValue
from service.domain.network import ONE
from service.domain.rounding import UNIT_COST_PLACES, published, text
from service.domain.yields import Yields
from service.use_cases.breakdown_comparison_documents import (
    break_or_buy_document,
    finishing_documents,
    head_of,
    method_documents,
    side_documents,
)
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class CutUsed:
    """How many kilograms of a cut are used."""

    cut: str
    quantity_kg: Decimal


@dataclass(frozen=True, slots=True)
class UseAsked:
    """So much input, in kg or in whole pieces of what was bought, and what of its cuts is used."""

    used: tuple[CutUsed, ...]
    input_kg: Decimal | None = None
    pieces: int | None = None


def read_breakdown_comparison(snapshot: Snapshot, code: str, against: Sequence[str] | None = None,
                              use: UseAsked | None = None) -> Document:
    """The comparison of a breakdown that stands on the snapshot's day, in use or not; without `use`, of a kg of input
    of which all that comes off is used.

    Raises:  NotFound; UnknownReference or WrongValue for what `against` names; faults of what is said to be used.
    """
    kitchen = snapshot.kitchen
    breakdown = kitchen.breakdowns.get(code)
    if breakdown is None:
        raise NotFound(f"There is no breakdown {code!r} on {snapshot.position.day}.")
    others = _others(breakdown, snapshot, against, in_body=use is not None)
    sheet, paid = CutSheet(kitchen, snapshot.costing), input_cost(breakdown, kitchen, snapshot.costing)
    yields = sheet.yields(breakdown)
    pools = pools_of(breakdown, yields, kitchen, snapshot.costing)
    if use is None:
        value = value_of(breakdown, yields, kitchen.settings, ONE)
    else:
        weight = _input_kg(use, breakdown, snapshot)
        value = value_of(breakdown, yields, kitchen.settings, weight, _used(use.used, breakdown, yields, weight))
    position = snapshot.position
    return {
        "as_of": position.day.isoformat(), "revision": position.revision, "currency": kitchen.settings.currency,
        **head_of(breakdown, yields, paid, pools),
        "methods": method_documents(breakdown, under_all_methods(breakdown, yields, pools)),
        "breakdowns": side_documents(side_by_side(breakdown, others, kitchen, sheet, paid)),
        "break_or_buy": break_or_buy_document(BreakOrBuy(value, paid)),
        "finishing": finishing_documents(value),
    }


def _others(breakdown: Breakdown, snapshot: Snapshot, against: Sequence[str] | None, in_body: bool
            ) -> Sequence[Breakdown]:
    """Those that are named, in that order, or all of the same input."""
    if against is None:
        return of_the_same_input(breakdown, snapshot.kitchen)
    faults: list[Fault] = []
    for number, code in enumerate(against):
        other = snapshot.kitchen.breakdowns.get(code)
        at = f"#/against/{number}" if in_body else None
        more = {} if in_body else {"parameter": "against"}
        if other is None:
            faults.append(UnknownReference(f"There is no breakdown {code!r} on {snapshot.position.day}.", at, **more))
        elif other.input != breakdown.input:
            faults.append(WrongValue(f"{code!r} breaks down another input than {breakdown.code!r}: name breakdowns of "
                                     "the same.", at, **more))
    if faults:
        raise Refused(faults)
    return [snapshot.kitchen.breakdowns[code] for code in dict.fromkeys(against) if code != breakdown.code]


def _input_kg(use: UseAsked, breakdown: Breakdown, snapshot: Snapshot) -> Fraction:
    """What goes in; a piece weighs what the cutting sheet says of it."""
    if use.input_kg is not None:
        return Fraction(use.input_kg)
    piece = cutting_sheet(breakdown.code, snapshot.kitchen, snapshot.costing).input_kg_per_piece
    if piece is None:
        raise WrongValue("What a piece weighs is not known here: give input_kg, or record a yield test or a conversion "
                         "such as 1 each = 8.4 kg of what is bought.", "#/pieces")
    if piece == 0:
        raise WrongValue("Nothing of a piece comes to this breakdown, by its yields: give input_kg.", "#/pieces")
    return piece * (use.pieces or 0)


def _used(asked: Sequence[CutUsed], breakdown: Breakdown, yields: Yields, input_kg: Fraction) -> dict[str, Fraction]:
    """What is used of each cut, at most what comes off.

    Raises:  Refused with every fault, each at its field.
    """
    used: dict[str, Fraction] = {}
    faults: list[Fault] = []
    for number, one in enumerate(asked):
        output, at = breakdown.output(one.cut), f"#/used/{number}"
        if output is None:
            faults.append(UnknownReference(_not_made(one.cut, breakdown), f"{at}/cut"))
        elif not output.role.is_cut:
            faults.append(LossCannotBeUsed(f"{one.cut!r} is a loss of {breakdown.code!r}: leave it out.", f"{at}/cut"))
        elif one.cut in used:
            faults.append(OutputTwice(f"{one.cut!r} stands here twice: give all that is used of it once.",
                                      f"{at}/cut"))
        else:
            comes_off = yields.fractions[one.cut] * input_kg
            used[one.cut] = min(Fraction(one.quantity_kg), comes_off)
            faults += _beyond(one, output, comes_off, f"{at}/quantity_kg")
    if faults:
        raise Refused(faults)
    return used


def _beyond(one: CutUsed, output: Output, comes_off: Fraction, pointer: str) -> list[Fault]:
    there = published(comes_off, UNIT_COST_PLACES)
    if published(Fraction(one.quantity_kg), UNIT_COST_PLACES) <= there:
        return []
    return [WrongValue(f"{text(there)} kg of {output.cut} come off, and {one.quantity_kg:f} are to be used: give at "
                       "most that, or more input.", pointer, comes_off_kg=text(there))]


def _not_made(cut: str, breakdown: Breakdown) -> str:
    return f"{cut!r} is no output of {breakdown.code!r}; its cuts are {', '.join(one.cut for one in breakdown.cuts)}."
