"""The days on which a figure can change with no write: something starts on them, or ended on the day before.

Between two of them nothing does, so only they need looking at. As known at one revision. Settings are not among them:
no setting moves a material cost.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Set
from datetime import date, timedelta
from typing import Any

from service.domain.history import Histories
from service.domain.kitchen import Kitchen

ONE_DAY = timedelta(days=1)


def days_of_change(kitchen: Kitchen) -> Mapping[date, Set[str | None]]:
    """Each such day: the ingredients whose prices start or have ended, and None for anything else that starts."""
    days: defaultdict[date, set[str | None]] = defaultdict(set)
    for day in _starts_of_records(kitchen):
        days[day].add(None)
    for code, prices in kitchen.prices.items():
        for price in prices:
            days[price.effective_from].add(code)
            if price.effective_to is not None:
                days[price.effective_to + ONE_DAY].add(code)
    return days


def _starts_of_records(kitchen: Kitchen) -> Iterator[date]:
    kept: tuple[Histories[Any], ...] = (
        kitchen.suppliers, kitchen.ingredients, kitchen.breakdowns, kitchen.recipes, kitchen.dishes)
    for histories in kept:
        yield from (version.effective_from for history in histories.values() for version in history
                    if version.effective_from is not None)
    yield from (test.tested_on for tests in kitchen.yield_tests.values() for test in tests)
