"""A row of a price list once it is held against the kitchen: what it would record, and what was found."""

from fractions import Fraction
from typing import NamedTuple

from service.domain.ingredient import Ingredient
from service.domain.price import Price
from service.domain.price_list import PriceRow
from service.domain.review_ground import Ground
from service.domain.row_finding import RowFinding, Standing
from service.domain.row_price import ProposedPrice
from service.domain.supplier_item import SupplierItem


class ReviewedRow(NamedTuple):
    """A row, what it would record, and what was found.

    Shape:   `row` is as the file has it, also where what an invoice charges beside its lines is in `price`; `in_force`
             is the price that it is compared with: this supplier's on the day the row starts, else the one that the
             ingredient's costs rest on; None: there is none.
    """

    row: PriceRow
    item: SupplierItem | None
    ingredient: Ingredient | None
    price: ProposedPrice | None
    in_force: Price | None
    findings: tuple[RowFinding, ...]
    standing: Standing


def per_base_unit(one: ReviewedRow, ground: Ground) -> Fraction | None:
    """What the row would record, in money per base unit; None when it records nothing."""
    price, ingredient = one.price, one.ingredient
    if price is None or ingredient is None:
        return None
    return ground.unit_price(price.amount, price.pack_quantity, price.pack_unit, ingredient)


def changed_by(one: ReviewedRow, ground: Ground) -> tuple[Fraction, Fraction] | None:
    """The new and the old unit price; None when there is no old one, or either does not convert."""
    new, old = per_base_unit(one, ground), one.in_force
    if new is None or old is None or one.ingredient is None:
        return None
    before = ground.unit_price(old.amount, old.pack_quantity, old.pack_unit, one.ingredient)
    return None if before is None else (new, before)


def held_back(price: ProposedPrice, own: Price | None) -> bool:
    """Whether the supplier's price in force is agreed until a day, and so holds before an open one that starts now."""
    return own is not None and own.effective_to is not None and price.ends is None
