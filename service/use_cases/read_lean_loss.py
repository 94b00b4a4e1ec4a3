"""Read what lost lean costs: percentage points of a breakdown's input that go from main and trim into the bin.

Of each output that carries the cost, and of all lean in proportion; per kg of input, and a year at a volume of input.
Beside them what the tests show, where loss is up while trim is down: so many points, at what trim is worth.
"""

from decimal import Decimal
from fractions import Fraction

from service.domain.breakdown import Output, Role
from service.domain.currency import minor_unit
from service.domain.errors import NotFound
from service.domain.lean_in_the_bin import lean_in_the_bin
from service.domain.lean_loss import LeanLoss, LeanLosses, lean_lost
from service.domain.publication import cost_in_words, in_words, percent_in_words, share_in_words
from service.domain.yield_reading import readings
from service.domain.yields import yields_of
from service.use_cases.cost_rows import gap_documents
from service.use_cases.documents import Document, plain
from service.use_cases.snapshot import Snapshot


def read_lean_loss(snapshot: Snapshot, code: str, input_kg_per_year: Decimal, points: Decimal) -> Document:
    """What `points` percentage points of lean cost, of a breakdown in use or not, on the snapshot's day.

    Raises:  NotFound when no such breakdown stands that day.
    """
    kitchen = snapshot.kitchen
    plan = kitchen.breakdowns.get(code)
    if plan is None:
        raise NotFound(f"There is no breakdown {code!r} on {kitchen.day}.")
    yields = yields_of(plan, kitchen.yield_tests.get(code, ()), kitchen.day)
    losses, part, volume = LeanLosses(plan, yields, kitchen, snapshot.costing), Fraction(points) / 100, Fraction(
        input_kg_per_year)
    lot = losses.of(losses.in_proportion(part))
    return {
        "breakdown": code, "name": plan.name, "as_of": kitchen.day.isoformat(), "revision": snapshot.position.revision,
        "currency": kitchen.settings.currency, "in_use": plan.in_use, "method": plan.method.value,
        "yield_basis": yields.basis, "tests": len(yields.counting),
        "points": plain(points), "input_kg_per_year": plain(input_kg_per_year),
        "lost_kg_per_year": cost_in_words(part * volume),
        "in_words": _in_words(lot, points, input_kg_per_year, plan.name, kitchen.settings.currency),
        "all_lean": _yields(losses, None, part) | _figures(lot, None, volume),
        "outputs": [_output(output) | _yields(losses, output.cut, part)
                    | _figures(losses.of({output.cut: part}), output.cut, volume) for output in losses.lean],
        "lean_into_the_bin": _seen(losses, volume),
    }


def _output(output: Output) -> Document:
    return {"cut": output.cut, "name": output.name, "role": output.role.value}


def _yields(losses: LeanLosses, cut: str | None, part: Fraction) -> Document:
    fractions = [losses.yields.fractions[output.cut] for output in losses.lean if cut in (None, output.cut)]
    whole = sum(fractions, Fraction(0))
    return {"yield": share_in_words(whole), "yield_after": share_in_words(whole - part) if whole >= part else None}


def _figures(loss: LeanLoss, cut: str | None, volume: Fraction) -> Document:
    """Per kg of lean, per kg of input, and a year."""
    before, after, rise = loss.cost_per_kg(cut)
    value, borne = loss.value_per_kg_of_input, loss.borne_per_kg_of_input
    return {
        "market_value": cost_in_words(loss.market_value), "value_per_kg": cost_in_words(loss.value),
        "disposal_cost_per_kg": cost_in_words(loss.disposal),
        "value_per_kg_of_input": cost_in_words(value), "value_per_year": _a_year(value, volume),
        "cost_per_kg": cost_in_words(before), "cost_per_kg_after": cost_in_words(after),
        "rise_per_kg": cost_in_words(rise), "cost_per_kg_of_input": cost_in_words(borne),
        "cost_per_year": _a_year(borne, volume), "gaps": gap_documents(loss.gaps),
    }


def _a_year(per_kg_of_input: Fraction | None, volume: Fraction) -> str | None:
    return None if per_kg_of_input is None else cost_in_words(per_kg_of_input * volume)


def _in_words(lot: LeanLoss, points: Decimal, volume: Decimal, name: str, currency: str) -> str:
    """Over-trimming made visible, as far as it is known."""
    said = (f"{name}: {plain(points)} percentage point{'' if points == 1 else 's'} of lean in the bin "
            f"{'is' if points == 1 else 'are'} {plain(points * volume / 100)} kg a year at {plain(volume)} kg of "
            "input")
    places, worth, (_, _, rise) = minor_unit(currency), lot.value_per_kg_of_input, lot.cost_per_kg(None)
    if worth is not None:
        said += f", worth {in_words(worth * Fraction(volume), places)} {currency}"
    return f"{said}; a kg of what is left costs {cost_in_words(rise)} {currency} more." if rise is not None else (
        f"{said}.")


def _seen(losses: LeanLosses, volume: Fraction) -> Document | None:
    """What the tests show, and what it comes to in a year, at what trim is worth."""
    counting = losses.yields.counting
    seen = lean_in_the_bin(losses.breakdown, counting)
    if seen is None:
        return None
    part = lean_lost(seen)
    loss = losses.of(losses.in_proportion(part, Role.TRIM))
    return {
        "text": _sentence(losses), "points": percent_in_words(part * 100),
        "lost_kg_per_year": cost_in_words(part * volume),
        "value_per_kg_of_input": cost_in_words(loss.value_per_kg_of_input),
        "value_per_year": _a_year(loss.value_per_kg_of_input, volume), "gaps": gap_documents(loss.gaps)}


def _sentence(losses: LeanLosses) -> str:
    """The words that the yield statistics have for it."""
    return next(reading.text for reading in readings(losses.breakdown, losses.yields.counting, ())
                if reading.code == "lean_into_the_bin")
