"""Formulas that several sheets of a workbook share: a published figure, minutes at the labour rate."""

from decimal import Decimal
from fractions import Fraction

from service.domain.kitchen_settings import KitchenSettings
from service.domain.labour import labour_cost
from service.domain.live_table import Label, Live, known
from service.domain.rounding import published
from service.domain.workbook_names import LABOUR_RATE


def published_as(formula: str, value: Fraction | None, places: int) -> Live:
    """A figure rounded once, from the exact one, half away from zero as spreadsheets do."""
    return Live(f"ROUND({formula},{places})", None if value is None else published(value, places))


def of_minutes(minutes: Decimal, settings: KitchenSettings) -> Live:
    """What the minutes in the same row cost; no minutes cost nothing, whatever the rate."""
    return Live(f"IF([minutes]=0,0,{{minutes}}*{known(LABOUR_RATE)}/60)", labour_cost(minutes, settings))


def state_of(costs: str, complete: bool) -> Live:
    """Whether all of some cells hold numbers."""
    return Live(f'IF(ISNUMBER({costs}),"complete","incomplete")', "complete" if complete else "incomplete")


def choice(flag: bool) -> str:
    """A flag as people choose it from a list."""
    return "yes" if flag else "no"


NOT_KNOWN = Live("NA()", None)
NOTHING = Label("")
