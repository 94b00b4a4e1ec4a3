"""Causes in words: what moved a dish, as a chef would say it. `Beef topside +9.35 %`, `Red wine jus: recipe`."""

from collections.abc import Iterable
from typing import Any

from service.domain.change_causes import Cause
from service.domain.kitchen import PLURALS, KitchenOnDay
from service.domain.price_turns import Decided, decided
from service.domain.publication import percent_in_words

_ABOUT = {"price": "ingredient", "yield_test": "breakdown"}
_WORDS = {"settings": "the kitchen's settings", "yield_test": "a yield test of {}", "supplier": "supplier {}"}
_ENDS = frozenset(("retire", "ends"))


class CauseWords:
    """Says causes between two kitchens; a price is worked out once, however many dishes it moved."""

    def __init__(self, before: KitchenOnDay, after: KitchenOnDay) -> None:
        self._before, self._after = before, after
        self._said: dict[tuple[str, str, str], str | None] = {}

    def of(self, causes: Iterable[Cause]) -> list[str]:
        """Each cause once, in the order given. A price that decides nothing is no cause to speak of, unless all are."""
        causes = list(causes)
        said = [words for cause in causes if (words := self._words(cause)) is not None]
        return list(dict.fromkeys(said)) or list(dict.fromkeys(self._plain(cause) for cause in causes))

    def _words(self, cause: Cause) -> str | None:
        asked = cause.kind, cause.code, cause.action
        if asked not in self._said:
            self._said[asked] = self._price(cause.code) if cause.kind == "price" else self._plain(cause)
        return self._said[asked]

    def _price(self, code: str) -> str | None:
        was, now = decided(self._before, code), decided(self._after, code)
        if was == now:
            return None
        return f"{self._name('ingredient', code)}{_moved(was, now)}"

    def _plain(self, cause: Cause) -> str:
        name = self._name(_ABOUT.get(cause.kind, cause.kind), cause.code)
        if cause.kind in _WORDS:
            return _WORDS[cause.kind].format(name)
        if cause.kind == "dish":
            return "the dish itself"
        ended = " ended" if cause.action in _ENDS else ""
        return f"{name}: {cause.kind}{ended}"

    def _name(self, kind: str, code: str) -> str:
        plural = PLURALS.get(kind)
        for kitchen in (self._after, self._before):
            records: Any = getattr(kitchen, plural, {}) if plural else {}
            if code in records:
                return str(records[code].name)
        return code


def _moved(was: Decided, now: Decided) -> str:
    """By what part a price moved."""
    if now.price is None or now.unit_price is None:
        return ": no price any more"
    if was.price is None or was.unit_price is None:
        return ": first price"
    if not was.unit_price or was.unit_price == now.unit_price:
        return ": another price"
    share = percent_in_words((now.unit_price - was.unit_price) / was.unit_price * 100) or ""
    return f" {'' if share.startswith('-') else '+'}{share}\N{NO-BREAK SPACE}%"
