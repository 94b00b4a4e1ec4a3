"""Rows of one list that cannot all become prices: the same row twice, steps of quantity, two items of one ingredient.

At most one price of an ingredient from one supplier is in force on a day, so of rows whose days meet only one can be
what is meant on those days. One item whose price is dated twice (a promotion, a later step) is no such case: what holds
when is said by the days themselves.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from itertools import accumulate, chain
from typing import NamedTuple

from service.domain.review_ground import Ground
from service.domain.reviewed_row import ReviewedRow, per_base_unit
from service.domain.row_finding import RowFinding, asks, blocks
from service.domain.row_price import ProposedPrice

Place = tuple[str, date, date | None]
Found = Iterator[tuple[int, RowFinding]]
Days = tuple[date, date | None]
MOST_NAMED = 5
"""How many other rows a sentence names: of a file in which all rows are rivals, each would else name all."""


class Priced(NamedTuple):
    """A row that has a price, and its index."""

    number: int
    one: ReviewedRow
    price: ProposedPrice

    @property
    def item(self) -> str:
        return self.one.item.code if self.one.item is not None else ""

    @property
    def step(self) -> Decimal:
        """The smallest quantity for which it holds."""
        return self.one.row.at_least if self.one.row.at_least is not None else Decimal(0)

    @property
    def days(self) -> Days:
        return self.price.starts, self.price.ends

    @property
    def last_day(self) -> date:
        return self.price.ends or date.max


class Spans:
    """Periods, asked whether another meets any of them."""

    def __init__(self, prices: Iterable[ProposedPrice]) -> None:
        spans = sorted((price.starts, price.ends or date.max) for price in prices)
        self._starts = [starts for starts, _ in spans]
        self._latest = list(accumulate((ends for _, ends in spans), max))

    def meet(self, price: ProposedPrice) -> bool:
        """Whether the price's period has a day in common with one of these."""
        begun = bisect_right(self._starts, price.ends or date.max)
        return begun > 0 and self._latest[begun - 1] >= price.starts


def rivals(prices: Sequence[ProposedPrice | None]) -> dict[Place, list[int]]:
    """The prices (by index) of the same ingredient and period; groups of two or more."""
    groups: defaultdict[Place, list[int]] = defaultdict(list)
    for number, price in enumerate(prices):
        if price is not None:
            groups[price.ingredient, price.starts, price.ends].append(number)
    return {place: numbers for place, numbers in groups.items() if len(numbers) > 1}


def rows_together(rows: Sequence[ReviewedRow], ground: Ground) -> Found:
    """What is found of rows that stand beside each other: the row's index, and the finding."""
    groups: defaultdict[str, list[int]] = defaultdict(list)
    for number, one in enumerate(rows):
        if one.price is not None:
            groups[one.price.ingredient].append(number)
    for numbers in groups.values():
        if len(numbers) > 1:
            yield from _of_one_ingredient([Priced(number, rows[number], price) for number in numbers
                                           if (price := rows[number].price) is not None], ground)


def _of_one_ingredient(group: Sequence[Priced], ground: Ground) -> Found:
    breaks = dict(_breaks(group))
    yield from breaks.items()
    left = [each for each in group if each.number not in breaks]
    by_days: defaultdict[Days, list[Priced]] = defaultdict(list)
    for each in left:
        by_days[each.days].append(each)
    told = set()
    for number, finding in chain(*(_same_days(same, ground) for same in by_days.values()), _in_turn(left, ground)):
        if number not in told:
            told.add(number)
            yield number, finding


def _breaks(group: Sequence[Priced]) -> Found:
    """Prices of an item for larger quantities, on days for which there is one for a smaller quantity."""
    by_item: defaultdict[str, list[Priced]] = defaultdict(list)
    for each in group:
        by_item[each.item].append(each)
    for listed in by_item.values():
        smallest = min(each.step for each in listed)
        first = Spans(each.price for each in listed if each.step == smallest)
        on_days: dict[Days, Decimal] = {}
        for each in listed:
            on_days[each.days] = min(each.step, on_days.get(each.days, each.step))
        for each in listed:
            if each.step > on_days[each.days] or (each.step > smallest and first.meet(each.price)):
                yield each.number, blocks("quantity_break", f"The price holds from {each.step:f} on; the one for the "
                                                            "smallest quantity is taken.")


def _same_days(group: Sequence[Priced], ground: Ground) -> Found:
    """Rows of one ingredient for the very same days."""
    if len(group) < 2:
        return
    if len({per_base_unit(each.one, ground) for each in group}) == 1:
        for each in group[1:]:
            yield each.number, blocks("duplicate_row", f"It says the same as {group[0].one.row.place}.")
        return
    same_item = len({each.item for each in group}) == 1
    for each in group:
        elsewhere = _elsewhere(each, group)
        if same_item:
            yield each.number, asks("duplicate_row", f"The item stands at another price in {elsewhere}: say which "
                                                     "holds.")
        else:
            yield each.number, asks("two_prices_for_ingredient", "Another item of the same ingredient has another "
                                                                 f"price in {elsewhere}: say which one its costs rest "
                                                                 "on.")


def _in_turn(group: Sequence[Priced], ground: Ground) -> Found:
    """Rows of different items of one ingredient whose days meet in part: one would hide the other for a while."""
    latest: list[Priced] = []
    """The two of different items that end last, of those that have begun."""
    for each in sorted(group, key=lambda each: (each.price.starts, each.number)):
        before = next((other for other in latest if other.item != each.item), None)
        if (before is not None and before.last_day >= each.price.starts
                and per_base_unit(before.one, ground) != per_base_unit(each.one, ground)):
            for this, that in ((before, each), (each, before)):
                yield this.number, asks("two_prices_for_ingredient", "Another item of the same ingredient has another "
                                                                     f"price in {that.one.row.place}, and their days "
                                                                     "meet: say which one its costs rest on.")
        last, *others = sorted([*latest, each], key=lambda each: each.last_day, reverse=True)
        latest = [last, *[other for other in others if other.item != last.item][:1]]


def _elsewhere(each: Priced, group: Sequence[Priced]) -> str:
    """Where the others stand: some of them by name, and how many more."""
    named = [other.one.row.place for other in group[:MOST_NAMED + 1] if other.number != each.number][:MOST_NAMED]
    more = len(group) - 1 - len(named)
    return ", ".join(named) + (f" and {more} more" if more > 0 else "")
