"""The menu as a whole under what is supposed: made of the dishes' columns, and anew of the few dishes that moved.

Rules that always hold: the totals are those of the dishes' rows; a sum less what some dishes came to, and with
what they come to now, is the sum over all: every total is exact.
"""

from collections.abc import Iterable
from fractions import Fraction

from service.domain.menu_totals import MenuLine, MenuTotals
from service.domain.published_menu import PublishedDishes
from service.use_cases.covers_asked import Covers
from service.use_cases.snapshot import Snapshot


def menu_totals(snapshot: Snapshot, covers: Covers | None) -> MenuTotals:
    """The menu of a snapshot as a whole."""
    if covers is None:
        return snapshot.kept("menu totals", lambda: MenuTotals.of(lines_of(snapshot.columns(), None)))
    return MenuTotals.of(lines_of(snapshot.columns(), covers))


def totals_after(before: Snapshot, after: Snapshot, covers: Covers | None, totals: MenuTotals) -> MenuTotals:
    """The menu of a snapshot that was found from one before, whose totals are known."""
    moved = after.moved() if after.stands_on(before) else None
    if moved is None:
        return totals if after is before else menu_totals(after, covers)
    return totals.with_others(MenuTotals.of(lines_of(before.columns(), covers, moved.rows.tolist())),
                              MenuTotals.of(lines_of(moved.at[0], covers)))


def lines_of(columns: PublishedDishes, covers: Covers | None, rows: Iterable[int] | None = None) -> Iterable[MenuLine]:
    """A line for each dish, or for those in some rows."""
    has_percent, within = columns.food_cost_percent.known, columns.within_target
    for row in range(len(columns.codes)) if rows is None else rows:
        yield MenuLine(_covers_of(covers, columns.codes[row]), columns.food_cost.at(row),
                       columns.price_before_tax.at(row), bool(within[row]) if has_percent[row] else None)


def _covers_of(covers: Covers | None, dish: str) -> Fraction | int:
    return 1 if covers is None else covers.by_dish.get(dish, 0)
