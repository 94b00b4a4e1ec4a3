"""A supplier's item: what a supplier's own code stands for here, and how it is packed.

A supplier's price list speaks the supplier's language: their codes, their packs, their names. One mapping for each of
their codes says which ingredient it is and what a pack of it holds: `1 case = 2 x 5 kg`. It moves no figure by itself;
prices do.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar

PACK = "pack"
"""The unit of a price that is for the item's own pack, whatever that holds."""

LONGEST_CODE = 64
UNREADABLE = "\ufffd"
"""What stands in an address where its bytes were no UTF-8."""


@dataclass(frozen=True, slots=True)
class Pack:
    """One pack: `name` = `count` x `quantity` `unit`.

    Example: Pack("case", Decimal(2), Decimal(5), "kg") is a case of two pieces of 5 kg: 10 kg.
    """

    name: str
    count: Decimal
    quantity: Decimal
    unit: str

    @property
    def holds(self) -> Decimal:
        """How much of `unit` a pack holds."""
        return self.count * self.quantity


@dataclass(frozen=True, slots=True)
class SupplierItem:
    """A supplier's item as recorded; its versions are dated, but for its name and GTIN.

    Shape:   `code` is the supplier's own code for it, as they write it; `priced_per` is a unit's name, or "pack": what
             a price is for when a list does not say; `gtin` is 8, 12, 13 or 14 digits, or empty.
    """

    UNDATED: ClassVar[tuple[str, ...]] = ("name", "gtin")

    supplier: str
    code: str
    name: str
    ingredient: str
    pack: Pack
    priced_per: str = PACK
    gtin: str = ""


def item_key(supplier: str, code: str) -> str:
    """The name of an item in the ledger, which no other has: codes of suppliers have no slash.

    Example: item_key("fenmoor", "10/2") is "fenmoor/10/2".
    """
    return f"{supplier}/{code}"


def item_code_fault(code: str) -> str | None:
    """What is wrong with a supplier's code for an item, as a sentence that says the mend, or None.

    It is kept as the supplier writes it: any visible characters, blanks inside. What cannot stand in an address is
    refused: clients fold `.` and `..` between slashes away before they ask.
    """
    if not 1 <= len(code) <= LONGEST_CODE:
        return f"A supplier's code has 1 to {LONGEST_CODE} characters."
    if not code.isprintable() or UNREADABLE in code:
        return "A supplier's code is made of visible characters and blanks, in UTF-8; leave out what cannot be seen."
    if code != code.strip():
        return "Leave out the blanks before and after the supplier's code."
    if {".", ".."} & set(code.split("/")):
        return "A supplier's code cannot be, nor have between slashes, `.` or `..`: addresses lose them on the way."
    return None
