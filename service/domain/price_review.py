"""The review of a price list: every row held against the kitchen, before anything is in force.

A pure function of what the file says and of the kitchen as known at one revision, so that it can be given again to the
digit. A row's fault never hides another row; what is odd about a row is said, and a person decides.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Context, localcontext
from typing import NamedTuple

from service.domain.gtin import in_fourteen_digits
from service.domain.ingredient import Ingredient
from service.domain.landed_rows import landed_rows
from service.domain.price import Price
from service.domain.price_comparison import Held, compared
from service.domain.price_list import PriceList, PriceRow
from service.domain.review_ground import Ground
from service.domain.reviewed_row import ReviewedRow
from service.domain.rounding import text
from service.domain.row_finding import UNCHANGED, RowFinding, Standing, asks, blocks, standing_of, tells
from service.domain.row_price import (
    ProposedPrice,
    Terms,
    ended,
    gtin_differs,
    line_total_differs,
    matched_by_gtin,
    other_currency,
    pack_differs,
    proposed,
    unmapped,
    unreadable,
)
from service.domain.rows_together import rows_together
from service.domain.supplier_item import SupplierItem

EXACT = Context(prec=200)


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
        landed, found = landed_rows(said, rows, spread_charges, ground)
        terms = Terms(said.currency, said.starts, said.ends, None if said.is_invoice else asked_from)
        reviewed = [_reviewed(row, paid, terms, said.is_invoice, ground)
                    for row, paid in zip(rows, landed, strict=True)]
        for number, finding in list(rows_together(reviewed, ground)):
            reviewed[number] = _with(reviewed[number], finding)
    return Review(tuple(reviewed), (*_another_start(said, terms), *found))


def missing_items(before: Iterable[PriceRow], now: Iterable[PriceRow]) -> list[PriceRow]:
    """The items of the supplier's last list that are not on this one: by code, by GTIN, or by name where one of the two
    lists gives nothing else."""
    listed = list(now)
    codes, gtins = {row.item for row in listed}, {in_fourteen_digits(row.gtin) for row in listed if row.gtin}
    names, only_names = ({row.name.casefold() for row in some} for some in (
        listed, [row for row in listed if not row.item and not row.gtin]))

    def is_there(row: PriceRow) -> bool:
        by_name = only_names if row.item or row.gtin else names
        return any((row.item and row.item in codes, row.gtin and in_fourteen_digits(row.gtin) in gtins,
                    row.name and row.name.casefold() in by_name))

    return [row for row in before if (row.item or row.gtin or row.name) and not row.ended and not is_there(row)]


def counted(rows: Iterable[ReviewedRow]) -> Mapping[Standing, int]:
    """How many rows stand where."""
    counts = dict.fromkeys(Standing, 0)
    for one in rows:
        counts[one.standing] += 1
    return counts


def _reviewed(row: PriceRow, paid: PriceRow, terms: Terms, is_invoice: bool, ground: Ground) -> ReviewedRow:
    """One row; `paid` is the same with its share of what is charged beside the lines."""
    item = ground.item(row.item, row.gtin, row.name)
    ingredient = ground.ingredient(item.ingredient) if item is not None else None
    stopped = (ended(row) or unreadable(row) or unmapped(row, item, ingredient)
               or other_currency(row, terms, ground.settings.currency))
    if stopped is not None or item is None or ingredient is None:
        return _row(row, item, ingredient, None, None, [stopped])
    price = proposed(paid, item, ingredient, terms, ground)
    if isinstance(price, RowFinding):
        return _row(row, item, ingredient, None, None, [price])
    own = ground.in_force(ingredient.code, price.starts)
    in_force = own or ground.deciding(ingredient, price.starts)
    findings = [pack_differs(row, item, ingredient, ground), line_total_differs(row), matched_by_gtin(row, item),
                gtin_differs(row, item, ground)]
    if in_force is None:
        findings.append(tells("first_price", f"{ingredient.code} has no price in force to compare with."))
    else:
        invoiced = _invoiced(row, paid, price, item, ingredient, terms, ground) if is_invoice else None
        findings += compared(Held(row, item, ingredient, price, own, in_force, invoiced), ground)
    if not any(finding.code == UNCHANGED for finding in findings if finding is not None):
        findings += _not_as_it_stands(price, ingredient, own, ground)
    return _row(row, item, ingredient, price, in_force, findings)


def _invoiced(row: PriceRow, paid: PriceRow, price: ProposedPrice, item: SupplierItem, ingredient: Ingredient,
              terms: Terms, ground: Ground) -> ProposedPrice | None:
    """What the line itself charges, which is what was agreed or not."""
    if row is paid:
        return price
    invoiced = proposed(row, item, ingredient, terms, ground)
    return None if isinstance(invoiced, RowFinding) else invoiced


def _not_as_it_stands(price: ProposedPrice, ingredient: Ingredient, own: Price | None, ground: Ground
                      ) -> list[RowFinding | None]:
    """Why a price cannot be recorded as things stand here, or what recording it would do besides."""
    return [_retired(price, ground), _second_offer(price, ingredient, ground) if own is None else None,
            _in_the_past(price, ingredient, ground), _later(price, ground)]


def _retired(price: ProposedPrice, ground: Ground) -> RowFinding | None:
    if ground.supplier_stands(price.starts):
        return None
    return blocks("retired_supplier", f"Supplier {ground.supplier!r} is retired, or not there yet, on {price.starts} "
                                      "or later: PUT it again to revive it, then look again.")


def _second_offer(price: ProposedPrice, ingredient: Ingredient, ground: Ground) -> RowFinding | None:
    """Whether a first price of this supplier would leave open whose price the costs rest on."""
    others = ground.offered_by_others(ingredient, price.starts)
    if not others:
        return None
    return asks("no_preferred_supplier", f"{ingredient.code} is offered by {', '.join(others)} and has no preferred "
                                         "supplier: with one more offer its costs are unknown. Say whom it prefers, "
                                         "then look again.")


def _in_the_past(price: ProposedPrice, ingredient: Ingredient, ground: Ground) -> RowFinding | None:
    closed = ground.settings.closed_through
    if closed is not None and price.starts <= closed:
        return blocks("closed_period", f"It would start on {price.starts}, and figures up to {closed} are closed: let "
                                       "it start later, or have `closed_through` moved in the settings.")
    if price.starts < ground.today and ground.decided_before_today(ingredient, price.starts, price.ends):
        return asks("start_in_past", f"It would start on {price.starts} and change figures that were published since: "
                                      "say why, or let it start today.")
    return None


def _later(price: ProposedPrice, ground: Ground) -> RowFinding | None:
    """Whether a price that is recorded already takes over from this one later on."""
    later = ground.next_own(price.ingredient, price.starts, price.ends)
    if later is None:
        return None
    return tells("later_price_holds", f"A price recorded already takes over on {later.effective_from}: "
                                      f"{text(later.amount)} for {text(later.pack_quantity)} {later.pack_unit}. "
                                      "Withdraw it there if this one is meant to stay.")


def _another_start(said: PriceList, terms: Terms) -> list[tuple[str, str]]:
    """Whether the day asked for is another than the list's own."""
    if terms.asked_from is None or said.starts in (None, terms.asked_from):
        return []
    return [("start_differs", f"The list says that it holds from {said.starts}, and {terms.asked_from} was asked for: "
                              "its prices start on the day asked for. Propose it again without a day if the list is "
                              "right.")]


def _row(row: PriceRow, item: SupplierItem | None, ingredient: Ingredient | None, price: ProposedPrice | None,
         in_force: Price | None, findings: Iterable[RowFinding | None]) -> ReviewedRow:
    found = tuple([finding for finding in findings if finding is not None])
    return ReviewedRow(row, item, ingredient, price, in_force, found, standing_of(found) if found else Standing.CLEAN)


def _with(one: ReviewedRow, finding: RowFinding) -> ReviewedRow:
    found = (*one.findings, finding)
    return one._replace(findings=found, standing=standing_of(found))
