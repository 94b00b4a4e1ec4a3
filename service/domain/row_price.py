"""What a row of a price list would record here: which ingredient, how much money for how much, from which day.

    amount for per_quantity of per_unit        per_unit is a unit, or the supplier's own pack

Where the row says what it is priced by, that holds; else what the item's mapping says. Where the row describes its own
pack, that is what it is priced for: it is what the supplier sells now.
"""

from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from service.domain.business_day import FIRST_DAY, LAST_DAY
from service.domain.gtin import in_fourteen_digits
from service.domain.ingredient import Ingredient
from service.domain.price_list import PriceRow
from service.domain.review_ground import Ground
from service.domain.row_finding import RowFinding, asks, blocks, tells
from service.domain.supplier_item import PACK, Pack, SupplierItem

MOST = Decimal(10) ** 12
FINEST = Decimal("0.000001")


class ProposedPrice(NamedTuple):
    """A price as it would be recorded."""

    ingredient: str
    amount: Decimal
    pack_quantity: Decimal
    pack_unit: str
    starts: date
    ends: date | None


class Terms(NamedTuple):
    """What holds for every row that does not say otherwise."""

    currency: str
    starts: date | None
    ends: date | None
    asked_from: date | None


def unreadable(row: PriceRow) -> RowFinding | None:
    """Why the row gives no price, as its reader found."""
    if row.faults:
        return blocks("unreadable_row", " ".join(f"{fault.column}: {fault.detail}" for fault in row.faults))
    if row.amount is None:
        return blocks("unreadable_row", "The row gives no price.")
    return None


def unmapped(row: PriceRow, item: SupplierItem | None, ingredient: Ingredient | None) -> RowFinding | None:
    """Why the row's item is no ingredient here. Which names are closest is found when the row is shown."""
    if item is None:
        named = row.item or row.gtin or row.name
        return blocks("unknown_item", f"Nothing is recorded for the supplier's item {named!r}: say which ingredient it "
                                      "is, then look again.")
    if ingredient is None:
        return blocks("retired_ingredient", f"Item {item.code!r} is {item.ingredient!r}, which does not stand on that "
                                            "day: revive it, or map the item to another.")
    return None


def other_currency(row: PriceRow, terms: Terms, kept: str) -> RowFinding | None:
    """Whether the price is in another currency than the kitchen's."""
    currency = row.currency or terms.currency
    if currency in ("", kept):
        return None
    return blocks("other_currency", f"The price is in {currency}, and the kitchen keeps its books in {kept}: ask "
                                    f"for a list in {kept}, or convert it first.")


def period(row: PriceRow, terms: Terms) -> tuple[date, date | None] | RowFinding:
    """The first and last day of the row's price: its own start, not before the one asked for; else the list's.

    A last day in the year 2999 or later is how some say that there is none.
    """
    asked = terms.asked_from
    starts = max(row.starts, asked) if row.starts and asked else row.starts or asked or terms.starts
    ends = row.ends or terms.ends
    if starts is None:
        return blocks("unreadable_row", "Neither the row nor the list says from when the price holds: give a start.")
    if not FIRST_DAY <= starts < LAST_DAY:
        return blocks("unreadable_row", f"No price starts on {starts}: give a day from {FIRST_DAY} on, before "
                                        f"{LAST_DAY}.")
    if ends is not None and ends < starts:
        return blocks("price_over", f"The price holds until {ends}, before it would start on {starts}: take the row "
                                    "out, or correct its days.")
    return starts, None if ends is not None and ends.year >= LAST_DAY.year else ends


def pack_of(row: PriceRow, item: SupplierItem) -> Pack:
    """The pack that the row is about."""
    return row.pack or item.pack


def priced_for(row: PriceRow, item: SupplierItem) -> tuple[Decimal, str] | RowFinding:
    """How much of which unit the row's amount is for."""
    unit = row.per_unit
    if unit is None:
        if row.per_unit_text:
            return blocks("unknown_unit", f"{row.per_unit_text!r} is no unit that is known here: give kg, l, each, or "
                                          "the name of the pack.")
        unit = item.priced_per
    if unit != PACK:
        return row.per_quantity, unit
    pack = pack_of(row, item)
    return row.per_quantity * pack.holds, pack.unit


def proposed(row: PriceRow, item: SupplierItem, ingredient: Ingredient, terms: Terms, ground: Ground
             ) -> ProposedPrice | RowFinding:
    """The price that the row would record, or what blocks it."""
    days = period(row, terms)
    if isinstance(days, RowFinding):
        return days
    quantity_and_unit = priced_for(row, item)
    if isinstance(quantity_and_unit, RowFinding):
        return quantity_and_unit
    quantity, unit = quantity_and_unit
    if ground.base_units(unit, ingredient) is None:
        return blocks("missing_conversion", f"The price is for {unit}, and {ingredient.code} is bought by "
                                            f"{ingredient.base_unit}: record how the two convert.")
    amount = row.amount
    if amount is None or not _fits(amount) or not _fits(quantity) or quantity <= 0:
        return blocks("unreadable_row", "A price is zero or more and its pack above zero, each with at most 12 digits "
                                        "before and 6 after the point: correct the row.")
    return ProposedPrice(ingredient.code, amount, quantity, unit, *days)


def pack_differs(row: PriceRow, item: SupplierItem, ingredient: Ingredient, ground: Ground) -> RowFinding | None:
    """Whether the row's own pack is another than the mapping's."""
    if row.pack is None or row.pack is item.pack:
        return None
    said, mapped = row.pack, item.pack
    if said.holds == mapped.holds and said.unit == mapped.unit:
        return None
    one, other = ground.base_units(said.unit, ingredient), ground.base_units(mapped.unit, ingredient)
    if one is not None and other is not None and Fraction(said.holds) * one == Fraction(mapped.holds) * other:
        return None
    return asks("pack_differs", f"The list says {in_words(said)}, the mapping {in_words(mapped)}: see which is right.")


def ended(row: PriceRow) -> RowFinding | None:
    """Whether the list takes the item off sale."""
    return blocks("line_ended", "The list says that the supplier no longer sells it: buy it from another, or "
                                "retire the item.") if row.ended else None


def line_total_differs(row: PriceRow) -> RowFinding | None:
    """An invoice line's total is its quantity times its price, within 0.02.

    Source: rule R120 of Peppol BIS Billing 3.0.
    """
    if row.line_total is None or row.billed_quantity is None or row.amount is None or row.per_quantity <= 0:
        return None
    expected = Fraction(row.billed_quantity) * Fraction(row.amount) / Fraction(row.per_quantity)
    if abs(expected - Fraction(row.line_total)) <= Fraction(2, 100):
        return None
    return asks("line_total_differs", f"{row.billed_quantity:f} at {row.amount:f} is not the line's total of "
                                      f"{row.line_total:f}: ask the supplier which one is right.")


def matched_by_gtin(row: PriceRow, item: SupplierItem) -> RowFinding | None:
    """The supplier's code is another than the mapping's, and the GTIN is the same."""
    if not row.item or row.item == item.code:
        return None
    return tells("matched_by_gtin", f"The list calls it {row.item!r}; its GTIN is that of {item.code!r}. Record the "
                                    "new code if that is what they call it now.")


def gtin_differs(row: PriceRow, item: SupplierItem, ground: Ground) -> RowFinding | None:
    """The supplier's code is known, and the GTIN beside it is another one's."""
    if not row.gtin or row.item != item.code:
        return None
    other = ground.item("", row.gtin, "")
    if other is not None and other.code != item.code:
        return asks("gtin_differs", f"The GTIN {row.gtin} is that of {other.code!r}: see which of the two is meant.")
    if item.gtin and in_fourteen_digits(item.gtin) != in_fourteen_digits(row.gtin):
        return asks("gtin_differs", f"The list says GTIN {row.gtin}, the mapping {item.gtin}: see which is right.")
    return None


def in_words(pack: Pack) -> str:
    """A pack as people write it. Example: 2 x 5 kg"""
    one = pack.count == 1
    return f"{pack.quantity:f} {pack.unit}" if one else f"{pack.count:f} x {pack.quantity:f} {pack.unit}"


def _fits(value: Decimal) -> bool:
    return 0 <= value < MOST and value == value.quantize(FINEST)
