"""A row's price held against the one in force: the same, far off, a likely slip, other than agreed, held back.

What is compared is money per base unit; most rows of a list need no division for it (`_on_one_scale`).
"""

from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from service.domain.ingredient import Ingredient
from service.domain.price import Price
from service.domain.price_change import Spread, likely_slip, outside_history
from service.domain.price_list import PriceRow
from service.domain.review_ground import Ground
from service.domain.reviewed_row import held_back
from service.domain.rounding import text
from service.domain.row_finding import UNCHANGED, RowFinding, asks, tells
from service.domain.row_price import ProposedPrice, pack_of
from service.domain.supplier_item import SupplierItem


class Held(NamedTuple):
    """What is held against what.

    Shape:   `own` is this supplier's price in force on the day the row's starts, `compared` the one to hold it
             against; `invoiced` is what an invoice charges in the line itself, None for a list.
    """

    row: PriceRow
    item: SupplierItem
    ingredient: Ingredient
    price: ProposedPrice
    own: Price | None
    compared: Price
    invoiced: ProposedPrice | None


def compared(held: Held, ground: Ground) -> list[RowFinding | None]:
    """What the comparison shows."""
    scaled = _on_one_scale(held.price, held.compared, held.ingredient, ground)
    if scaled is None:
        return []
    agreed = _agreed(held, ground) if held.invoiced is not None and held.own is not None else None
    if scaled[0] == scaled[1]:
        return [_unchanged(held.price, held.own) or _contract(held.price, held.own), agreed]
    far = abs(scaled[0] - scaled[1]) * 100 > ground.settings.price_change_limit_percent * scaled[1]
    spread = ground.spread(held.ingredient, held.price.starts)
    found = [_contract(held.price, held.own)]
    if far or spread is not None:
        found += _out_of_line(held, far, spread, ground)
    return [*found, agreed]


def _on_one_scale(price: ProposedPrice, other: Price, ingredient: Ingredient, ground: Ground
                  ) -> tuple[Decimal, Decimal] | None:
    """Two prices times one number, which is all that it takes to compare them: no division, and so exact decimals.

    Most of the rows of a list need no more; None when a unit does not convert.
    """
    new, old = price.amount * other.pack_quantity, other.amount * price.pack_quantity
    if price.pack_unit == other.pack_unit:
        return new, old
    here, there = ground.base_units(price.pack_unit, ingredient), ground.base_units(other.pack_unit, ingredient)
    if here is None or there is None:
        return None
    return new * there.numerator * here.denominator, old * here.numerator * there.denominator


def _out_of_line(held: Held, far: bool, spread: Spread | None, ground: Ground) -> list[RowFinding | None]:
    """What is odd about a price that is far from the one in force, or that has a history to be held against."""
    price, old_price, ingredient = held.price, held.compared, held.ingredient
    new = ground.unit_price(price.amount, price.pack_quantity, price.pack_unit, ingredient)
    old = ground.unit_price(old_price.amount, old_price.pack_quantity, old_price.pack_unit, ingredient)
    if new is None or old is None:
        return []
    slip = likely_slip(new, old, _packs(held, ground), _other(held, ground), ground.settings) if far else None
    return [outside_history(new, old, spread, ground.settings), slip]


def _unchanged(price: ProposedPrice, own: Price | None) -> RowFinding | None:
    """Nothing to record: this supplier's price is the same for as long as the new one would hold."""
    if own is None:
        return None
    as_long = price.ends is not None and own.effective_to is not None and price.ends <= own.effective_to
    if (own.effective_to is None and price.ends is None) or as_long:
        return tells(UNCHANGED, f"The price is the one in force since {own.effective_from}.")
    return None


def _contract(price: ProposedPrice, own: Price | None) -> RowFinding | None:
    if own is None or not held_back(price, own):
        return None
    return tells("contract_holds", f"A price agreed until {own.effective_to} holds before this one, which takes "
                                   "over on the day after.")


def _agreed(held: Held, ground: Ground) -> RowFinding | None:
    """Whether an invoice's line, without what is charged beside it, has another price than the one agreed."""
    invoiced, own = held.invoiced, held.own
    if invoiced is None or own is None:
        return None
    scaled = _on_one_scale(invoiced, own, held.ingredient, ground)
    if scaled is None or scaled[0] == scaled[1]:
        return None
    return asks("differs_from_agreed", f"The price agreed for {invoiced.starts} is {text(own.amount)} for "
                                       f"{text(own.pack_quantity)} {own.pack_unit}: have the invoice corrected, or "
                                       "say why it is right.")


def _packs(held: Held, ground: Ground) -> list[Fraction]:
    """How many base units the item's pack holds, in all and each of its pieces."""
    pack = pack_of(held.row, held.item)
    factor = ground.base_units(pack.unit, held.ingredient)
    return [] if factor is None else [Fraction(pack.holds) * factor, Fraction(pack.quantity) * factor]


def _other(held: Held, ground: Ground) -> Fraction | None:
    if held.row.other_amount is None:
        return None
    price = held.price
    return ground.unit_price(held.row.other_amount, price.pack_quantity, price.pack_unit, held.ingredient)
