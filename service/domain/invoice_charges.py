"""What an invoice charges beside its lines, spread over them by weight when somebody asks for it.

    landed price of a line = (line total + charge x weight / all weights) / billed quantity

Shares are rounded to the currency's smallest unit, and the last line takes what rounding leaves: together they are the
charge, exactly.
"""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from service.domain.price_list import DocumentCharge, PriceRow
from service.domain.rounding import published


def total_of(charges: Sequence[DocumentCharge]) -> Decimal:
    """All that a document charges beside its lines, allowances taken off."""
    return sum((charge.amount for charge in charges), Decimal(0))


def spread_by_weight(rows: Sequence[PriceRow], weights: Sequence[Fraction | None], charge: Decimal, places: int
                     ) -> list[PriceRow] | None:
    """The rows with their share of the charge in their price; None when a row that has a price has no weight.

    Shape:   `weights` are the billed weights in one unit, in the order of the rows; a row without a price takes no
             share.
    Exact:   the shares add up to the charge.
    Example: 12.00 over 5 kg and 15 kg is 3.00 and 9.00.
    """
    taking = [number for number, row in enumerate(rows) if row.amount is not None and not row.faults]
    if not taking or any(not weights[number] for number in taking):
        return None
    whole = sum((weights[number] or Fraction(0) for number in taking), Fraction(0))
    spread = list(rows)
    left = charge
    for number in taking:
        weight = weights[number] or Fraction(0)
        share = left if number == taking[-1] else published(Fraction(charge) * weight / whole, places)
        left -= share
        spread[number] = _with_share(rows[number], share, places)
    return spread


def _with_share(row: PriceRow, share: Decimal, places: int) -> PriceRow:
    billed = row.billed_quantity or row.per_quantity
    before = row.line_total if row.line_total is not None else _line_total(row, billed, places)
    return row._replace(amount=before + share, per_quantity=billed, line_total=before + share)


def _line_total(row: PriceRow, billed: Decimal, places: int) -> Decimal:
    return published(Fraction(row.amount or 0) * Fraction(billed) / Fraction(row.per_quantity), places)
