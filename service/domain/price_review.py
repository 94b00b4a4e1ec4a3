"""The review of a price list: every row held against the kitchen, before anything is in force.

A pure function of what the file says and of the kitchen as known at one revision, so that it can be given again to the
digit. A row's fault never hides another row; what is odd about a row is said, and a person decides.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Context, Decimal, localcontext
from fractions import Fraction
from typing import NamedTuple

from service.domain.currency import minor_unit
from service.domain.ingredient import Ingredient
from service.domain.invoice_charges import spread_by_weight, total_of
from service.domain.price import Price
from service.domain.price_change import Spread, likely_slip, outside_history, spread_of
from service.domain.price_list import PriceList, PriceRow
from service.domain.review_ground import Ground
from service.domain.rounding import text
from service.domain.row_finding import UNCHANGED, RowFinding, Standing, asks, blocks, standing_of, tells
from service.domain.row_price import (
    ProposedPrice,
    Terms,
    ended,
    line_total_differs,
    matched_by_gtin,
    other_currency,
    pack_differs,
    pack_of,
    proposed,
    unmapped,
    unreadable,
)
from service.domain.rows_together import rows_together
from service.domain.supplier_item import PACK, SupplierItem

EXACT = Context(prec=200)


class ReviewedRow(NamedTuple):
    """A row, what it would record, and what was found.

    Shape:   `in_force` is the price that it is compared with: this supplier's on the day the row starts, else the one
             that the ingredient's costs rest on; None: there is none.
    """

    row: PriceRow
    item: SupplierItem | None
    ingredient: Ingredient | None
    price: ProposedPrice | None
    in_force: Price | None
    findings: tuple[RowFinding, ...]
    standing: Standing


class Review(NamedTuple):
    """All rows in the order of the file, and what is found of the document as a whole (code and sentence)."""

    rows: tuple[ReviewedRow, ...]
    findings: tuple[tuple[str, str], ...]


def review(said: PriceList, rows: Sequence[PriceRow], asked_from: date | None, spread_charges: bool, ground: Ground
           ) -> Review:
    """Hold the rows of a list against the ground.

    Exact:   every comparison.
    """
    with localcontext(EXACT):
        rows, found = _charges(said, rows, spread_charges, ground)
        terms = Terms(said.currency, said.starts, said.ends, None if said.is_invoice else asked_from)
        spreads: dict[tuple[str, date], Spread | None] = {}
        reviewed = [_reviewed(row, terms, said.is_invoice, ground, spreads) for row in rows]
        for number, finding in rows_together([(one.row, one.price) for one in reviewed]):
            reviewed[number] = _with(reviewed[number], finding)
    return Review(tuple(reviewed), tuple(found))


def missing_items(before: Iterable[PriceRow], now: Iterable[PriceRow]) -> list[PriceRow]:
    """The items of the supplier's last list that are not on this one, by the supplier's codes."""
    there = {row.item for row in now}
    return [row for row in before if row.item and not row.ended and row.item not in there]


def changed_by(price: ProposedPrice, in_force: Price, ingredient: Ingredient, ground: Ground
               ) -> tuple[Fraction, Fraction] | None:
    """The new and the old unit price; None when either does not convert."""
    new = ground.unit_price(price.amount, price.pack_quantity, price.pack_unit, ingredient)
    old = ground.unit_price(in_force.amount, in_force.pack_quantity, in_force.pack_unit, ingredient)
    return None if new is None or old is None else (new, old)


def _reviewed(row: PriceRow, terms: Terms, is_invoice: bool, ground: Ground,
              spreads: dict[tuple[str, date], Spread | None]) -> ReviewedRow:
    item = ground.item(row.item, row.gtin, row.name)
    ingredient = ground.ingredient(item.ingredient) if item is not None else None
    stopped = (ended(row) or unreadable(row) or unmapped(row, item, ingredient)
               or other_currency(row, terms, ground.settings.currency))
    if stopped is not None or item is None or ingredient is None:
        return _row(row, item, ingredient, None, None, [stopped])
    price = proposed(row, item, ingredient, terms, ground)
    if isinstance(price, RowFinding):
        return _row(row, item, ingredient, None, None, [price])
    own = ground.in_force(ingredient.code, price.starts)
    compared = own or ground.deciding(ingredient, price.starts)
    findings = [pack_differs(row, item, ingredient, ground), line_total_differs(row), matched_by_gtin(row, item)]
    if compared is None:
        findings.append(tells("first_price", f"{ingredient.code} has no price in force to compare with."))
    else:
        findings += _compared(row, item, ingredient, price, own, compared, is_invoice, ground, spreads)
    if not any(finding is not None and finding.code == UNCHANGED for finding in findings):
        findings.append(_in_the_past(price, ingredient, ground))
    return _row(row, item, ingredient, price, compared, findings)


def _compared(row: PriceRow, item: SupplierItem, ingredient: Ingredient, price: ProposedPrice, own: Price | None,
              compared: Price, is_invoice: bool, ground: Ground, spreads: dict[tuple[str, date], Spread | None]
              ) -> list[RowFinding | None]:
    """What the comparison with the price in force shows."""
    scaled = _on_one_scale(price, compared, ingredient, ground)
    if scaled is None:
        return []
    if scaled[0] == scaled[1]:
        return [_unchanged(price, own)]
    key = (ingredient.code, price.starts)
    if key not in spreads:
        spreads[key] = spread_of(ground.last_year(ingredient, price.starts))
    findings = [_contract(price, own)]
    far = abs(scaled[0] - scaled[1]) * 100 > ground.settings.price_change_limit_percent * scaled[1]
    if far or spreads[key] is not None:
        findings += _out_of_line(row, item, ingredient, price, compared, far, spreads[key], ground)
    if is_invoice and own is not None:
        findings.append(asks("differs_from_agreed", f"The price agreed for {price.starts} is {text(own.amount)} for "
                                                    f"{text(own.pack_quantity)} {own.pack_unit}."))
    return findings


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


def _out_of_line(row: PriceRow, item: SupplierItem, ingredient: Ingredient, price: ProposedPrice, compared: Price,
                 far: bool, spread: Spread | None, ground: Ground) -> list[RowFinding | None]:
    """What is odd about a price that is far from the one in force, or that has a history to be held against."""
    prices = changed_by(price, compared, ingredient, ground)
    if prices is None:
        return []
    new, old = prices
    slip = likely_slip(new, old, _packs(row, item, ingredient, ground), _other(row, price, ingredient, ground),
                       ground.settings) if far else None
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
    if own is None or own.effective_to is None or price.ends is not None:
        return None
    return tells("contract_holds", f"A price agreed until {own.effective_to} holds before this one, which takes "
                                   "over on the day after.")


def _in_the_past(price: ProposedPrice, ingredient: Ingredient, ground: Ground) -> RowFinding | None:
    closed = ground.settings.closed_through
    if closed is not None and price.starts <= closed:
        return blocks("closed_period", f"It would start on {price.starts}, and figures up to {closed} are closed.")
    if price.starts < ground.today and ground.decides(ingredient, price.starts):
        return asks("start_in_past", f"It would start on {price.starts} and change figures that were published since.")
    return None


def _packs(row: PriceRow, item: SupplierItem, ingredient: Ingredient, ground: Ground) -> list[Fraction]:
    """How many base units the item's pack holds, in all and each of its pieces."""
    pack = pack_of(row, item)
    factor = ground.base_units(pack.unit, ingredient)
    return [] if factor is None else [Fraction(pack.holds) * factor, Fraction(pack.quantity) * factor]


def _other(row: PriceRow, price: ProposedPrice, ingredient: Ingredient, ground: Ground) -> Fraction | None:
    if row.other_amount is None:
        return None
    return ground.unit_price(row.other_amount, price.pack_quantity, price.pack_unit, ingredient)


def _row(row: PriceRow, item: SupplierItem | None, ingredient: Ingredient | None, price: ProposedPrice | None,
         in_force: Price | None, findings: Iterable[RowFinding | None]) -> ReviewedRow:
    found = tuple([finding for finding in findings if finding is not None])
    return ReviewedRow(row, item, ingredient, price, in_force, found, standing_of(found) if found else Standing.CLEAN)


def _with(one: ReviewedRow, finding: RowFinding) -> ReviewedRow:
    found = (*one.findings, finding)
    return one._replace(findings=found, standing=standing_of(found))


def _charges(said: PriceList, rows: Sequence[PriceRow], spread: bool, ground: Ground
             ) -> tuple[Sequence[PriceRow], list[tuple[str, str]]]:
    """The rows, with the document's charges in their prices when that is asked for and can be done."""
    charge = total_of(said.charges)
    if not said.charges:
        return rows, []
    named = ", ".join(f"{one.reason or 'charge'} {one.amount:f}" for one in said.charges)
    if not spread:
        return rows, [("document_charges", f"The invoice charges beside its lines: {named}. They are in no price; ask "
                                           "for spread_charges to spread them by weight.")]
    places = minor_unit(ground.settings.currency)
    landed = spread_by_weight(rows, [_weight(row, ground) for row in rows], charge, places)
    if landed is None:
        return rows, [("document_charges", f"The invoice charges beside its lines: {named}. They are in no price, "
                                           "since not every line has a weight to spread them by.")]
    return landed, [("charges_spread", f"What the invoice charges beside its lines is spread by weight: {named}.")]


def _weight(row: PriceRow, ground: Ground) -> Fraction | None:
    """The billed weight of a line in kg."""
    item = ground.item(row.item, row.gtin, row.name)
    ingredient = ground.ingredient(item.ingredient) if item is not None else None
    if item is None or ingredient is None or row.billed_quantity is None:
        return None
    unit = row.per_unit or item.priced_per
    pack = pack_of(row, item)
    quantity, unit = (row.billed_quantity * pack.holds, pack.unit) if unit == PACK else (row.billed_quantity, unit)
    factor = ground.base_units(unit, ingredient)
    in_kg = ground.base_units("kg", ingredient)
    return None if factor is None or in_kg is None else Fraction(quantity) * factor / in_kg


def counted(rows: Iterable[ReviewedRow]) -> Mapping[Standing, int]:
    """How many rows stand where."""
    counts = dict.fromkeys(Standing, 0)
    for one in rows:
        counts[one.standing] += 1
    return counts
