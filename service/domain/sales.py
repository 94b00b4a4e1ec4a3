"""Sales: what the POS sold on a business day.

Rules that always hold: a day's sales are replaced whole, never line by line; voids and refunds are lines below zero;
what was given away has no takings, so what was paid for is a sale, at whatever price. The order of the lines says
nothing.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from service.domain.history import Mark


class SaleKind(StrEnum):
    """What became of what was served: sold, given to a guest, or eaten by the staff."""

    SALE = "sale"
    COMP = "comp"
    STAFF_MEAL = "staff_meal"


class SalesLine(NamedTuple):
    """So many of what the POS calls by a code. A named tuple: a period has tens of thousands.

    Units:   `quantity` in portions (half ones too), `net_takings` in money for all of them, before tax; below zero
             where they were taken back.
    """

    pos_code: str
    quantity: Decimal
    net_takings: Decimal = Decimal(0)
    kind: SaleKind = SaleKind.SALE


def takings_fault(kind: SaleKind, net_takings: Decimal | None) -> str | None:
    """What is wrong with the takings of a line, as a sentence with the mend, or None."""
    if kind is SaleKind.SALE:
        return "Say what was taken for it, before tax; 0 if nothing was." if net_takings is None else None
    if net_takings:
        return ("What is given away takes nothing, and this line has takings: leave them out, or send it as a sale if "
                "something was paid for it.")
    return None


@dataclass(frozen=True, slots=True)
class SalesDay:
    """The sales of a business day as they were sent; `made` is the entry that recorded them."""

    business_date: date
    lines: tuple[SalesLine, ...]
    made: Mark

    def says(self, lines: Iterable[SalesLine]) -> bool:
        """Whether these are the same lines, in whatever order."""
        return sorted(self.lines) == sorted(lines)


class Sold(NamedTuple):
    """What was sold under one code, added up."""

    quantity: Fraction
    takings: Fraction


def sold_by_code(lines: Iterable[SalesLine]) -> Mapping[str, Mapping[SaleKind, Sold]]:
    """The lines of a day added up by code and kind; what was taken back altogether leaves nothing.

    Exact:   decimals of at most 18 digits: even a billion of them add up exactly in a decimal's 28.
    """
    sums: dict[tuple[str, SaleKind], tuple[Decimal, Decimal]] = {}
    for pos_code, quantity, takings, kind in lines:
        before = sums.get((pos_code, kind))
        sums[pos_code, kind] = (quantity, takings) if before is None else (before[0] + quantity, before[1] + takings)
    sold: dict[str, dict[SaleKind, Sold]] = {}
    for (pos_code, kind), (quantity, takings) in sums.items():
        if quantity or takings:
            sold.setdefault(pos_code, {})[kind] = Sold(Fraction(quantity), Fraction(takings))
    return sold
