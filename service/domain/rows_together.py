"""Rows of one list that cannot all become prices: the same row twice, steps of quantity, two items of one ingredient.

At most one price of an ingredient from one supplier is in force on a day, so of rows that would start on the same day
only one can be what is meant.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction

from service.domain.price_list import PriceRow
from service.domain.row_finding import RowFinding, asks, blocks
from service.domain.row_price import ProposedPrice

Priced = tuple[PriceRow, ProposedPrice | None]
Place = tuple[str, date, date | None]


def rivals(priced: Sequence[Priced]) -> dict[Place, list[int]]:
    """The rows (by index) that would record a price for the same ingredient and period; groups of two or more."""
    groups: defaultdict[Place, list[int]] = defaultdict(list)
    for number, (_, price) in enumerate(priced):
        if price is not None:
            groups[price.ingredient, price.starts, price.ends].append(number)
    return {place: numbers for place, numbers in groups.items() if len(numbers) > 1}


def rows_together(priced: Sequence[Priced]) -> Iterator[tuple[int, RowFinding]]:
    """What is found of rows that stand beside each other: the row's index, and the finding."""
    for numbers in rivals(priced).values():
        lowest = min(_step(priced[number][0]) for number in numbers)
        for number in numbers:
            if _step(priced[number][0]) > lowest:
                yield number, blocks("quantity_break", f"The price holds from {_step(priced[number][0]):f} on; the one "
                                                       "for the smallest quantity is taken.")
        first = [number for number in numbers if _step(priced[number][0]) == lowest]
        yield from _same_step(priced, first)


def _same_step(priced: Sequence[Priced], numbers: Sequence[int]) -> Iterator[tuple[int, RowFinding]]:
    if len(numbers) < 2:
        return
    first, *others = numbers
    place = priced[first][0].place
    if len({_per_unit(priced[number][1]) for number in numbers}) == 1:
        for number in others:
            yield number, blocks("duplicate_row", f"It says the same as {place}.")
        return
    same_item = len({_named(priced[number][0]) for number in numbers}) == 1
    for number in numbers:
        elsewhere = ", ".join(priced[other][0].place for other in numbers if other != number)
        if same_item:
            yield number, asks("duplicate_row", f"The item stands at another price in {elsewhere}: say which holds.")
        else:
            yield number, asks("two_prices_for_ingredient", "Another item of the same ingredient has another price in "
                                                            f"{elsewhere}: say which one its costs rest on.")


def _step(row: PriceRow) -> Decimal:
    return row.at_least if row.at_least is not None else Decimal(0)


def _named(row: PriceRow) -> str:
    return row.item or row.gtin or row.name.casefold()


def _per_unit(price: ProposedPrice | None) -> tuple[Fraction, str] | None:
    return None if price is None else (Fraction(price.amount) / Fraction(price.pack_quantity), price.pack_unit)
