"""A kitchen on a day, as if each of its records had been recorded once, at revisions 1, 2, 3 ... in order of kind."""

from collections.abc import Iterator, Mapping
from itertools import count
from typing import Any

from service.domain.history import Mark, Version
from service.domain.kitchen import Kitchen, KitchenOnDay


def recorded(kitchen: KitchenOnDay) -> Kitchen:
    """What would have had to be recorded for the kitchen to stand as it does."""
    revisions = count(1)
    kinds = {kind: _histories(getattr(kitchen, kind), revisions)
             for kind in ("suppliers", "ingredients", "breakdowns", "recipes", "dishes")}
    settings = (Version(kitchen.settings, Mark(next(revisions), 1)),)
    return Kitchen(revision=next(revisions), settings=settings, prices=kitchen.prices, yield_tests=kitchen.yield_tests,
                   supplier_items={}, **kinds)


def _histories(records: Mapping[str, Any], revisions: Iterator[int]) -> dict[str, tuple[Version[Any], ...]]:
    return {code: (Version(record, Mark(next(revisions), 1)),) for code, record in sorted(records.items())}
