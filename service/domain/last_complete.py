"""The last day on which a dish's food cost was complete: what is told beside a figure that now has a gap.

As known at the same revision, so that it too is a function of revision and day. Between the days on which something
below the dish starts or ends nothing changes, so only the eve of each such day is looked at, the latest first, over
the records below the dish alone.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction
from typing import Any

from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.history import Histories
from service.domain.kitchen import Kitchen
from service.domain.network import Key
from service.domain.uses import used_by_input, used_by_lines

EVES_LOOKED_AT = 400


@dataclass(frozen=True, slots=True)
class LastComplete:
    """The figure, and the last day on which it held."""

    food_cost: Fraction
    day: date


def last_complete(kitchen: Kitchen, dish: str, day: date) -> LastComplete | None:
    """The dish's last complete food cost before `day`; None when there was none in the last 400 changes.

    Units:   money per portion.
    """
    below = kitchen_below(kitchen, ("dish", dish))
    changes = sorted({change for change in _changes(below) if date.min < change <= day}, reverse=True)
    for change in changes[:EVES_LOOKED_AT]:
        eve = change - timedelta(days=1)
        network = compile_network(below.on(eve))
        cost = cascade(network).material(("dish", dish)) if ("dish", dish) in network.index else None
        if cost is not None:
            return LastComplete(cost, eve)
    return None


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
    def of(kind: str, records: Any) -> Any:
        return {code: record for code, record in records.items() if (kind, code) in keys}

    return replace(
        kitchen, ingredients=of("ingredient", kitchen.ingredients), prices=of("ingredient", kitchen.prices),
        breakdowns=of("breakdown", kitchen.breakdowns), yield_tests=of("breakdown", kitchen.yield_tests),
        recipes=of("recipe", kitchen.recipes), dishes=of("dish", kitchen.dishes))


def _changes(kitchen: Kitchen) -> Iterator[date]:
    """The days on which something starts, and the days after something ended."""
    kept: tuple[Histories[Any], ...] = (
        kitchen.suppliers, kitchen.ingredients, kitchen.breakdowns, kitchen.recipes, kitchen.dishes)
    for histories in kept:
        yield from (version.effective_from for history in histories.values() for version in history
                    if version.effective_from is not None)
    for prices in kitchen.prices.values():
        yield from (price.effective_from for price in prices)
        yield from (price.effective_to + timedelta(days=1) for price in prices if price.effective_to is not None)
    yield from (test.tested_on for tests in kitchen.yield_tests.values() for test in tests)
