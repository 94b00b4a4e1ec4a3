"""What a code of the POS stands for: the dish that bears it and is on the menu that day.

Codes are not dated: they are those recorded last, on every day. Nothing keeps two dishes from bearing one code (one may
follow the other on the menu), so on a day it is told by the menu, and where that does not tell, the code is shared.
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service.domain.dish import Dish
from service.domain.history import Histories, History, recorded_last, version_in_force


class Resolved(StrEnum):
    """Whether a code tells which dish was sold, and why not."""

    DISH = "dish"
    UNKNOWN = "unknown"
    """No dish bears it: a drink, perhaps, or a dish that is still to be recorded."""
    NOT_ON_MENU = "not_on_menu"
    """A dish bears it that is not on the menu that day."""
    SHARED = "shared"
    """Several dishes on the menu bear it."""


@dataclass(frozen=True, slots=True)
class Bearers:
    """What a code stands for on a day: how it resolves, and the dishes concerned, by code."""

    resolved: Resolved
    dishes: tuple[str, ...] = ()


UNKNOWN = Bearers(Resolved.UNKNOWN)


class PosCodes:
    """The codes of all dishes, as recorded last."""

    def __init__(self, dishes: Histories[Dish]) -> None:
        bearers: dict[str, list[str]] = {}
        for code in sorted(dishes):
            pos_code = recorded_last(dishes[code]).record.pos_code
            if pos_code is not None:
                bearers.setdefault(pos_code, []).append(code)
        self._bearers, self._dishes = bearers, dishes

    def on_day(self, pos_code: str, day: date) -> Bearers:
        """What a code stands for on a day."""
        bearers = self._bearers.get(pos_code)
        if bearers is None:
            return UNKNOWN
        standing = tuple(code for code in bearers if _stands(self._dishes[code], day))
        if len(standing) == 1:
            return Bearers(Resolved.DISH, standing)
        return Bearers(Resolved.SHARED, standing) if standing else Bearers(Resolved.NOT_ON_MENU, tuple(bearers))


def _stands(history: History[Dish], day: date) -> bool:
    version = version_in_force(history, day)
    return version is not None and not version.retired
