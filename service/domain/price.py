"""Prices: an amount for a pack, from a supplier, in force from a date.

For an ingredient, a supplier and a day, among the prices not withdrawn whose period holds the day (first and last day
inclusive; no last day is open): one with a last day (a contract, a promotion) before an open one, then the one that
starts latest, then the one recorded later. Prices exclude recoverable tax. Zero is a price.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from service.domain.history import Mark


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """A wrong price (or test) is withdrawn with a reason, never erased."""

    made: Mark
    reason: str


@dataclass(frozen=True, slots=True)
class Price:
    """A supplier's price for a pack of an ingredient.

    Units: `amount` is money for `pack_quantity` of `pack_unit`.
    """

    ingredient: str
    supplier: str
    amount: Decimal
    pack_quantity: Decimal
    pack_unit: str
    effective_from: date
    effective_to: date | None
    reference: str
    made: Mark
    withdrawn: Withdrawal | None = None

    @property
    def id(self) -> str:
        """The price's public name: the revision and entry that made it."""
        return f"{self.made.revision}-{self.made.entry}"
