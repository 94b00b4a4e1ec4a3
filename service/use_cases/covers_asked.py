"""Covers: how many portions of each dish, as the asker gives them or as the POS sold them in a period.

Rules that always hold: a dish that is not named has none; voids and refunds are taken off; what was sold under a code
that does not tell the dish is told apart, never spread over the others.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction

from service.domain.cascade import NO_GAPS
from service.domain.errors import Fault, Refused, UnknownReference, WrongValue
from service.domain.findings import Gap
from service.domain.kitchen import Kitchen
from service.domain.pos_codes import Bearers, PosCodes, Resolved
from service.domain.sales import SaleKind, SalesDay, sold_by_code
from service.domain.theoretical_food_cost import code_gap
from service.use_cases.ports import Ledger
from service.use_cases.read_sales import hold_to_days

NIL = Fraction(0)
SERVED = frozenset(SaleKind)
"""What was cooked: what guests and staff were given too."""
PAID_FOR = frozenset((SaleKind.SALE,))


@dataclass(frozen=True, slots=True)
class DishCovers:
    """So many portions of a dish."""

    dish: str
    quantity: Decimal


@dataclass(frozen=True, slots=True)
class SalesPeriod:
    """The business dates whose sales are meant, both included."""

    first: date
    last: date


@dataclass(frozen=True, slots=True)
class Covers:
    """Portions by dish.

    Shape:   `source` is "covers" or "sales"; no dish has none or fewer; `without_dish` is what was sold under each POS
             code that does not tell the dish, and `gaps` are those of them that dishes bear: food of which nobody knows
             how much; `days` counts the dates that have sales (0 for covers that were given).
    """

    source: str
    by_dish: Mapping[str, Fraction]
    without_dish: Mapping[str, Fraction] = field(default_factory=dict)
    days: int = 0
    gaps: frozenset[Gap] = NO_GAPS


def covers_given(given: Sequence[DishCovers], dishes: Collection[str], day: date) -> Covers:
    """The covers that a request names; `dishes` are those on the menu of `day`.

    Raises:  Refused with every dish that is not on the menu, is named twice, or has none.
    """
    covers: dict[str, Fraction] = {}
    faults: list[Fault] = []
    for place, each in enumerate(given):
        pointer = f"#/covers/{place}"
        if each.dish not in dishes:
            faults.append(UnknownReference(
                f"There is no dish {each.dish!r} on {day}: correct its code, or leave it out.", f"{pointer}/dish"))
        elif each.dish in covers:
            faults.append(WrongValue(f"The dish {each.dish!r} is named twice; add its covers up.", f"{pointer}/dish"))
        if each.quantity <= 0:
            faults.append(WrongValue("Give more than nothing, or leave the dish out.", f"{pointer}/quantity"))
        covers[each.dish] = Fraction(each.quantity)
    if faults:
        raise Refused(faults)
    return Covers("covers", covers)


def covers_sold(ledger: Ledger, kitchen: Kitchen, period: SalesPeriod, known_at: int,
                kinds: Collection[SaleKind] = SERVED) -> Covers:
    """The portions that the POS sold in a period, of the kinds named, as known at a revision.

    Raises:  WrongValue at `#/covers_from_sales/from` for a period that goes backwards, or is longer than a year; at
             `#/covers_from_sales` when it has no sales at all.
    """
    try:
        hold_to_days(period.first, period.last)
    except WrongValue as fault:
        raise fault.at("#/covers_from_sales/from") from None
    days = ledger.sales.days(period.first, period.last, known_at)
    if not days:
        raise WrongValue(f"No sales are recorded from {period.first} to {period.last}: name days that have some, or "
                         "give the covers of each dish.", "#/covers_from_sales")
    return covers_of_days(days, kitchen, kinds)


def covers_of_days(days: Sequence[SalesDay], kitchen: Kitchen, kinds: Collection[SaleKind] = SERVED) -> Covers:
    """The portions of each dish in these sales; what was taken back altogether leaves none."""
    codes = PosCodes(kitchen.dishes)
    covers: dict[str, Fraction] = {}
    without: dict[tuple[str, Bearers], Fraction] = {}
    for day in days:
        for pos_code, sold in sold_by_code(day.lines).items():
            bearers = codes.on_day(pos_code, day.business_date)
            quantity = sum((sold[kind].quantity for kind in sold if kind in kinds), NIL)
            if bearers.resolved is Resolved.DISH:
                covers[bearers.dishes[0]] = covers.get(bearers.dishes[0], NIL) + quantity
            else:
                without[pos_code, bearers] = without.get((pos_code, bearers), NIL) + quantity
    by_code: dict[str, Fraction] = {}
    for (pos_code, _), quantity in without.items():
        by_code[pos_code] = by_code.get(pos_code, NIL) + quantity
    return Covers("sales", _some(covers), _some(by_code), len(days), frozenset(
        code_gap(*key) for key, quantity in without.items()
        if quantity > 0 and key[1].resolved is not Resolved.UNKNOWN))


def _some(quantities: Mapping[str, Fraction]) -> dict[str, Fraction]:
    return {name: quantities[name] for name in sorted(quantities) if quantities[name] > 0}
