"""The last day on which a dish's food cost was complete: what is told beside a figure that now has a gap.

As known at the same revision, so that it too is a function of revision and day. Between the days on which something
below the dish starts or ends nothing changes, so only the eve of each such day is looked at, the latest first, over
the records below the dish alone; and of those not the eve of a change of prices that cannot mend what is missing.
"""

from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from typing import Any

from service.domain.cascade import CREDITS_EXCEED_COST, cascade
from service.domain.compile import compile_network
from service.domain.compile_lines import not_there
from service.domain.days_of_change import ONE_DAY, days_of_change
from service.domain.findings import Gap
from service.domain.history import Histories
from service.domain.kitchen import Kitchen, KitchenOnDay
from service.domain.network import Key
from service.domain.uses import used_by_input, used_by_lines

EVES_LOOKED_AT = 400


@dataclass(frozen=True, slots=True)
class LastComplete:
    """The figure, and the last day on which it held."""

    food_cost: Fraction
    day: date


def last_complete(kitchen: Kitchen, dish: str, day: date) -> LastComplete | None:
    """The dish's last complete food cost before `day`; None when there was none on the last 400 days looked at.

    Units:   money per portion.
    """
    below = kitchen_below(kitchen, ("dish", dish))
    moved = days_of_change(below)
    missing: Sequence[Gap] = ()
    looked_at = 0
    for change in sorted((change for change in moved if date.min < change <= day), reverse=True):
        missing = [gap for gap in missing if _stays(gap, moved[change])]
        if missing:
            continue
        if looked_at == EVES_LOOKED_AT:
            return None
        looked_at += 1
        eve = change - ONE_DAY
        cost, missing = _cost_or_gaps(below.on(eve), ("dish", dish))
        if cost is not None:
            return LastComplete(cost, eve)
    return None


def _cost_or_gaps(kitchen: KitchenOnDay, dish: Key) -> tuple[Fraction | None, Sequence[Gap]]:
    network = compile_network(kitchen)
    if dish not in network.index:
        return None, (not_there(dish),)
    costing = cascade(network)
    return costing.material(dish), costing.material_gaps(dish)


def _stays(gap: Gap, moved: Set[str | None]) -> bool:
    """Whether a gap was surely there before a change too: one of prices alone, which are not what it lacks."""
    return None not in moved and gap.code != CREDITS_EXCEED_COST and (
        gap.kind != "ingredient" or gap.record not in moved)


def kitchen_below(kitchen: Kitchen, top: Key) -> Kitchen:
    """The kitchen of one record and all that any of its versions, and theirs, ever used."""
    makers: dict[str, list[str]] = {}
    for code, history in kitchen.breakdowns.items():
        for version in history:
            for output in version.record.cuts:
                makers.setdefault(output.cut, []).append(code)
    found, waiting = {top}, [top]
    while waiting:
        for used in _ever_used(kitchen, waiting.pop(), makers):
            if used not in found:
                found.add(used)
                waiting.append(used)
    return _only(kitchen, found)


def _ever_used(kitchen: Kitchen, key: Key, makers: dict[str, list[str]]) -> Iterator[Key]:
    kind, code = key
    if kind == "cut":
        yield from (("breakdown", maker) for maker in makers.get(code, ()))
    elif kind == "breakdown":
        yield from (used_by_input(version.record.input) for version in kitchen.breakdowns[code])
    elif kind in ("dish", "recipe"):
        histories: Histories[Any] = kitchen.dishes if kind == "dish" else kitchen.recipes
        for version in histories.get(code, ()):
            yield from used_by_lines(version.record.lines)


def _only(kitchen: Kitchen, keys: set[Key]) -> Kitchen:
    """Found by their keys, since each of all incomplete dishes asks for its own few."""
    def of(kind: str, records: Any) -> Any:
        codes = sorted(code for of_kind, code in keys if of_kind == kind)
        return {code: records[code] for code in codes if code in records}

    return replace(
        kitchen, ingredients=of("ingredient", kitchen.ingredients), prices=of("ingredient", kitchen.prices),
        breakdowns=of("breakdown", kitchen.breakdowns), yield_tests=of("breakdown", kitchen.yield_tests),
        recipes=of("recipe", kitchen.recipes), dishes=of("dish", kitchen.dishes))
