"""Read the board: every dish with its costs and how far it is off its target, what needs attention first.

Rules that always hold: figures are the published ones; what is off or moved is the difference of two published figures.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta
from decimal import Decimal
from math import ceil

from service.domain.attention import Attention, attention_of, attention_order, points_between
from service.domain.menu_totals import MenuLine, MenuTotals, units_of
from service.domain.timeline import next_day_of_figures, started_on
from service.use_cases.cause_words import CauseWords
from service.use_cases.cost_rows import dish_rows
from service.use_cases.documents import Document
from service.use_cases.ports import Ledger
from service.use_cases.since_yesterday import Yesterday, missing_in, moved_since, yesterday_of
from service.use_cases.snapshot import Snapshot
from service.use_cases.snapshots import Snapshots

FORTNIGHT = timedelta(days=14)
NO_ALERTS: Mapping[str, Document] = {}
_BAR = 10
"""Percentage points that the longest bar stands for."""


def read_board(ledger: Ledger, snapshots: Snapshots, snapshot: Snapshot, words: str = "", section: str = "",
               alerts: Mapping[str, Document] = NO_ALERTS) -> Document:
    """The board of a snapshot: of all dishes, or of those of a section, or whose names hold all the words.

    Shape:   `groups` by why a dish is looked at; the summary is of the whole menu, whatever is searched for, and its
             `moved` None where no dish was known the evening before; `alerts` are the open ones by dish.
    """
    yesterday = yesterday_of(ledger, snapshots, snapshot)
    rows = snapshot.kept("board rows", lambda: _board_rows(dish_rows(snapshot), yesterday))
    sections = sorted({row["section"] for row in rows if row["section"]})
    shown = [row for row in rows if _is_asked_for(row, words.casefold().split(), section)]
    return {
        "currency": snapshot.kitchen.settings.currency, "yesterday": yesterday.day, "sections": sections,
        "q": words, "section": section, "dishes_in_all": len(rows), "shown": len(shown),
        "coming": snapshot.kept("coming", lambda: (_coming(snapshot),))[0],
        "summary": _summary(dish_rows(snapshot), yesterday, rows),
        "groups": [{"attention": attention.value, "rows": [
            row | {"alert": alerts.get(row["dish"])} for row in shown if row["attention"] == attention]}
                   for attention in Attention]}


def _is_asked_for(row: Document, words: Sequence[str], section: str) -> bool:
    if section and row["section"] != section:
        return False
    text = f"{row['name']} {row['dish']} {row['section']}".casefold()
    return all(word in text for word in words)


def _summary(rows: Sequence[Document], yesterday: Yesterday, board: Iterable[Document]) -> Document:
    counts = {attention.value: 0 for attention in Attention}
    for row in board:
        counts[row["attention"]] += 1
    return counts | {
        "food_cost_percent": _totals(rows)["food_cost_percent"],
        "food_cost_percent_yesterday": _totals(yesterday.rows.values())["food_cost_percent"],
        "moved": len(yesterday.causes) if yesterday.rows else None}


def _coming(snapshot: Snapshot) -> Document | None:
    """What is recorded already for the next day on which a figure can change, within a fortnight."""
    day = snapshot.position.day
    coming = next_day_of_figures(snapshot.recorded, day, day + FORTNIGHT)
    if coming is None:
        return None
    words = CauseWords(snapshot.kitchen, snapshot.recorded.on(coming))
    return {"day": coming.isoformat(), "causes": words.of(started_on(snapshot.recorded, coming))}


def _totals(rows: Iterable[Document]) -> Document:
    return MenuTotals.of(MenuLine(1, units_of(row["food_cost"]), units_of(row["price_before_tax"]),
                                  row["within_target"]) for row in rows).as_published()


def _board_rows(rows: Iterable[Document], yesterday: Yesterday) -> list[Document]:
    """The rows in the order of attention."""
    made = []
    for row in rows:
        before = yesterday.rows.get(str(row["dish"]))
        off = points_between(row["food_cost_percent"], row["target_food_cost_percent"])
        moved = None if before is None else points_between(row["food_cost_percent"], before["food_cost_percent"])
        attention = attention_of(row["within_target"], row["status"] == "complete")
        made.append((attention_order(attention, off, moved, str(row["name"]).casefold()),
                     _board_row(row, attention, off, yesterday)))
    return [row for _, row in sorted(made, key=lambda pair: pair[0])]


def _board_row(row: Document, attention: Attention, off: Decimal | None, yesterday: Yesterday) -> Document:
    told = {name: row[name] for name in (
        "dish", "name", "section", "food_cost", "known_food_cost", "food_cost_percent", "gross_profit", "menu_price",
        "target_food_cost_percent", "last_complete")}
    return told | {
        "attention": attention.value, "off": None if off is None else str(off),
        "bar": min(_BAR, ceil(off)) if attention is Attention.OUTSIDE and off else 0,
        "moved": moved_since(row, yesterday), "missing": missing_in(row)}
