"""Read price movements: what moved between two days, by ingredient and by dish, and by which records.

The movements are a function of the position and the first day; the last few are kept, so that the pages of one list
come from one computation.
"""

import threading
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from service.domain.errors import Fault, Refused, UnknownReference, WrongValue
from service.domain.kitchen import Kitchen
from service.domain.menu_movement import Covers
from service.domain.price_movement import PriceMovements, price_movements
from service.use_cases.position import Position

LONGEST_SPAN = 400
KEPT = 4


class KeptMovements:
    """The movements built last, of one worker. One is built at a time; what is kept is had without waiting."""

    def __init__(self) -> None:
        self._kept: dict[tuple[Position, date], PriceMovements] = {}
        self._lock = threading.Lock()

    def of(self, kitchen: Kitchen, position: Position, start: date) -> PriceMovements:
        """What moved after `start` up to the position's day; `kitchen` is that of its revision."""
        asked = (position, start)
        found = self._kept.get(asked)
        if found is not None:
            return found
        with self._lock:
            found = self._kept.get(asked)
            if found is None:
                found = self._kept[asked] = price_movements(kitchen, start, position.day)
            while len(self._kept) > KEPT:
                del self._kept[next(iter(self._kept))]
            return found


@dataclass(frozen=True, slots=True)
class CoversOfDish:
    """How many portions of a dish were sold."""

    dish: str
    covers: int


def hold_to_span(start: date, end: date, in_body: bool = False) -> None:
    """Hold a span to one that goes forward, and is at most so long.

    Raises:  WrongValue at `from`, in the body or in the query.
    """
    if start >= end:
        detail = f"Give a day before `to`, which is {end}."
    elif (end - start).days > LONGEST_SPAN:
        detail = f"From {start} to {end} are {(end - start).days} days; at most {LONGEST_SPAN} are told at once."
    else:
        return
    raise WrongValue(detail, "#/from") if in_body else WrongValue(detail, parameter="from")


def covers_by_dish(kitchen: Kitchen, given: Sequence[CoversOfDish]) -> Covers:
    """The covers of each dish that has some.

    Raises:  Refused with every dish that is not recorded, or is named twice.
    """
    covers: dict[str, int] = {}
    faults: list[Fault] = []
    for place, each in enumerate(given):
        pointer = f"#/covers/{place}/dish"
        if each.dish not in kitchen.dishes:
            faults.append(UnknownReference(f"There is no dish {each.dish!r}; correct the code.", pointer))
        elif each.dish in covers:
            faults.append(WrongValue(f"The dish {each.dish!r} is named twice; add its covers up.", pointer))
        covers[each.dish] = each.covers
    if faults:
        raise Refused(faults)
    return covers
