"""A UBL Invoice as a list of the prices that were charged.

A line's price is its net price, as agreed. Where the line itself is charged or allowed something, what was paid is its
total over what was billed, and that is its price. What is charged for the document as a whole stays beside the lines.

Source: EN 16931-1 for the terms (BT), Peppol BIS Billing 3.0 for the paths and rules (R046, R120, R121, R130).
"""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from itertools import chain

from service.domain.errors import FileTooLarge
from service.domain.price_list import DocumentCharge, FileFormat, PriceList, PriceRow
from service.integrations.price_lists.table_reading import MOST_ROWS
from service.integrations.price_lists.ubl_tree import Node, attribute, first, text_at, under
from service.integrations.price_lists.ubl_values import (
    LineReader,
    date_of,
    decimal_of,
    gtin_of,
    measure_of,
    same_unit,
    unit_code,
)
from service.integrations.price_lists.unit_words import Measure

_QUANTITY = "cbc:InvoicedQuantity"
_TOTAL = "cbc:LineExtensionAmount"
_PRICE = "cac:Price/cbc:PriceAmount"
_BASE = "cac:Price/cbc:BaseQuantity"
_DISCOUNT = "cac:Price/cac:AllowanceCharge"
_SLACK = Decimal("0.02")
"""By how much a line's total may differ (rule PEPPOL-EN16931-R120)."""


def read_invoice(head: Node, begin: Node, more: Iterator[Node]) -> PriceList:
    """What an invoice says. `head` holds what stands before its lines, `begin` is the first of them.

    Raises:  FileTooLarge, and what reading on raises.
    """
    rows: list[PriceRow] = []
    for line in chain((begin,), more):
        rows.append(_row(line, len(rows) + 1))
        if len(rows) > MOST_ROWS:
            raise FileTooLarge(f"The invoice has more than {MOST_ROWS:,} lines.", limit=MOST_ROWS,
                               counted="rows")
    issued = date_of(text_at(head, "cbc:IssueDate"))
    delivered = date_of(text_at(head, "cac:Delivery/cbc:ActualDeliveryDate"))
    return PriceList(
        format=FileFormat.INVOICE, rows=tuple(rows), complete=False, reference=text_at(head, "cbc:ID"),
        supplier_name=text_at(head, "cac:AccountingSupplierParty/cac:Party/cac:PartyName/cbc:Name",
                              "cac:AccountingSupplierParty/cac:Party/cac:PartyLegalEntity/cbc:RegistrationName"),
        currency=text_at(head, "cbc:DocumentCurrencyCode"), issued_on=issued, starts=delivered or issued,
        charges=tuple(_charges(head)))


def _charges(head: Node) -> Iterator[DocumentCharge]:
    """What is charged (BG-21), and allowed as less than zero (BG-20), for the document as a whole."""
    for each in under(head, "cac:AllowanceCharge"):
        amount = decimal_of(text_at(each, "cbc:Amount"))
        if isinstance(amount, Decimal) and amount:
            is_charge = _is_charge(each)
            reason = text_at(each, "cbc:AllowanceChargeReason", "cbc:AllowanceChargeReasonCode")
            yield DocumentCharge(reason or ("charge" if is_charge else "allowance"), amount if is_charge else -amount)


def _is_charge(node: Node) -> bool:
    return text_at(node, "cbc:ChargeIndicator") in ("true", "1")


def _row(line: Node, number: int) -> PriceRow:
    reader = LineReader(line)
    item, price = first(line, "cac:Item"), first(line, _PRICE)
    code = unit_code(first(line, _QUANTITY))
    measure = measure_of(code) or Measure(Decimal(1), "")
    billed, total = _billed(reader), reader.number(_TOTAL)
    amount, per_quantity = _charged(reader, _net_price(reader), _base_quantity(reader, code), billed, total)
    return PriceRow(
        number, f"line {reader.text('cbc:ID') or number}", reader.text("cac:Item/cac:SellersItemIdentification/cbc:ID"),
        gtin_of(item), reader.text("cac:Item/cbc:Name", "cac:Item/cbc:Description"), amount=amount,
        amount_text="" if price is None else str(price[1]).strip(), currency=attribute(price, "currencyID"),
        per_quantity=per_quantity * measure.quantity, per_unit=measure.unit or None, per_unit_text=code,
        starts=_starts(reader), billed_quantity=None if billed is None else billed * measure.quantity,
        line_total=total, faults=tuple(reader.faults))


def _starts(reader: LineReader) -> date | None:
    """The first day of the line's own period (BT-134), which few lines have."""
    return reader.day("cac:InvoicePeriod/cbc:StartDate")


def _billed(reader: LineReader) -> Decimal | None:
    """The quantity billed (BT-129): with goods sold by weight, what the scale said."""
    billed = reader.number(_QUANTITY)
    if billed is None and first(reader.line, _QUANTITY) is None:
        reader.blame(_QUANTITY, "The line has no quantity.")
    if billed is not None and billed <= 0:
        reader.blame(_QUANTITY, f"A quantity of {billed:f} gives goods back, or none; it says no price.")
    return billed


def _net_price(reader: LineReader) -> Decimal | None:
    """The net price (BT-146), held to its gross price less its discount (BT-148, BT-147; rule R046)."""
    net = reader.number(_PRICE)
    if net is None:
        if first(reader.line, _PRICE) is None:
            reader.blame(_PRICE, "The line has no price.")
        return None
    if net < 0:
        reader.blame(_PRICE, "The price is below zero (rule BR-27).")
    for discount in under(reader.line, _DISCOUNT):
        gross, less = reader.number("cbc:BaseAmount", discount), reader.number("cbc:Amount", discount)
        if gross is not None and less is not None and net != gross - less:
            reader.blame(_PRICE, f"The net price of {net:f} is not the gross price of {gross:f} less {less:f} (rule "
                                 "R046).")
    return net


def _base_quantity(reader: LineReader, invoiced_code: str) -> Decimal:
    """How many units the price is for (BT-149); 1 where the line does not say."""
    node = first(reader.line, _BASE)
    quantity = reader.number(_BASE)
    if node is None or quantity is None:
        return Decimal(1)
    code = unit_code(node)
    if code and not same_unit(code, invoiced_code):
        reader.blame(_BASE, f"The price is for {code} and the quantity in {invoiced_code or 'no unit'}; they must be "
                            "the same (rule R130).")
    if quantity <= 0:
        reader.blame(_BASE, "The base quantity is not above zero (rule R121).")
        return Decimal(1)
    return quantity


def _charged(reader: LineReader, net: Decimal | None, base: Decimal, billed: Decimal | None,
             total: Decimal | None) -> tuple[Decimal | None, Decimal]:
    """The price and the quantity that it is for: what was paid for what was billed, where the line has its own charges.

    A total that its charges do not explain is left beside the net price, so that the review finds the difference.
    """
    signed = [amount if _is_charge(each) else -amount for each in under(reader.line, "cac:AllowanceCharge")
              if (amount := reader.number("cbc:Amount", each)) is not None]
    if not signed or None in (net, billed, total) or net is None or billed is None or total is None or billed <= 0:
        return net, base
    if total < 0:
        reader.blame(_TOTAL, "The line's total is below zero: it gives money back and says no price.")
        return net, base
    # Multiplied out, so that no quotient is rounded.
    differs = abs((total - sum(signed)) * base - billed * net) > _SLACK * base
    return (net, base) if differs else (total, billed)
