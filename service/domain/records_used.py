"""Which version of each record a figure rests on: what the steps of a working name as their source.

Of a kept record it is the version in force on the day; for the facts that are not dated (conversions), the version
recorded last. A price is named by its own id, yields by the tests that count, settings by their revision.
"""

from collections.abc import Mapping
from datetime import date
from typing import Any

from service.domain.history import Histories, History, Version, recorded_last, version_in_force
from service.domain.kitchen import PLURALS, Kitchen
from service.domain.price import Price
from service.domain.rounding import text
from service.domain.working import RecordUsed
from service.domain.yields import Yields

Names = Mapping[str, Any]


class RecordsUsed:
    """The records of a kitchen on one day, each as the version that holds."""

    def __init__(self, kitchen: Kitchen, day: date) -> None:
        self._kitchen = kitchen
        self._day = day

    def kept(self, kind: str, code: str) -> RecordUsed:
        """An ingredient, breakdown, recipe or dish: the version in force."""
        history = self._history(kind, code)
        return _used(kind, code, version_in_force(history, self._day) if history else None, self.name(kind, code))

    def undated(self, kind: str, code: str) -> RecordUsed:
        """The same, for facts that are not dated: the version recorded last."""
        history = self._history(kind, code)
        return _used(kind, code, recorded_last(history) if history else None, self.name(kind, code))

    def settings(self) -> RecordUsed:
        version = version_in_force(self._kitchen.settings, self._day)
        return _used("settings", "settings", version, "the kitchen's settings")

    def price(self, price: Price) -> RecordUsed:
        """A supplier's price: its id, who asks it, from when, by which list."""
        return RecordUsed("price", price.ingredient, self.name("ingredient", price.ingredient), price.made.revision,
                          price.effective_from, {
            "price": price.id, "supplier": price.supplier, "supplier_name": self.name("supplier", price.supplier),
            "amount": text(price.amount), "pack_quantity": text(price.pack_quantity), "pack_unit": price.pack_unit,
            "effective_to": None if price.effective_to is None else price.effective_to.isoformat(),
            "reference": price.reference})

    def tests(self, breakdown: str, yields: Yields) -> RecordUsed:
        """The yield tests of a breakdown that count; the revision is that of the one recorded last."""
        counting = yields.counting
        return RecordUsed("yield_tests", breakdown, self.name("breakdown", breakdown),
                          max((test.made.revision for test in counting), default=None), None, {
            "tests": [{"test": test.id, "tested_on": test.tested_on.isoformat()} for test in counting]})

    def name(self, kind: str, code: str) -> str:
        """The record's name, or its code where nothing of that code is recorded."""
        history = self._history(kind, code)
        return str(recorded_last(history).record.name) or code if history else code

    def _history(self, kind: str, code: str) -> History[Any]:
        histories: Histories[Any] = getattr(self._kitchen, PLURALS[kind])
        return histories.get(code, ())


def _used(kind: str, code: str, version: Version[Any] | None, name: str) -> RecordUsed:
    if version is None:
        return RecordUsed(kind, code, name, None)
    return RecordUsed(kind, code, name, version.made.revision, version.effective_from)
