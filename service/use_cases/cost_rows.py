"""Cost answers as rows: the published figures of dishes, cuts and recipes, with gaps, findings and allergens.

A row for a key with `costs:read` alone says that something is missing and in which way, never what it is: neither
lines, nor cuts, nor suppliers and their prices.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import timedelta
from typing import Any

from service.domain.compile_lines import measures_of
from service.domain.compiled_menu import standing_figures
from service.domain.cut_figures import CutSheet
from service.domain.dish import Dish
from service.domain.errors import NotFound
from service.domain.findings import Finding, Gap
from service.domain.last_complete import last_complete
from service.domain.line_figures import line_figures
from service.domain.menu import dish_figures, findings_of
from service.domain.network import Key
from service.domain.portions import Pieces, portion_figures
from service.domain.publication import cost_in_words
from service.domain.published_menu import RESTING_ON_COST
from service.domain.recipe_figures import recipe_figures
from service.use_cases.documents import Document
from service.use_cases.position import DAYS_OPEN_TO_COSTS_KEYS
from service.use_cases.read_allergens import rolled_up
from service.use_cases.rows_taken_over import RowsBefore, rows_before
from service.use_cases.snapshot import Snapshot

Rows = Callable[[Snapshot], list[Document]]
"""The rows of one list of costs, in the order of the codes."""


def dish_row(snapshot: Snapshot, code: str, costs_only: bool = False) -> Document:
    """The costs of one dish.

    Raises:  NotFound when no such dish stands on the snapshot's day.
    """
    dish = snapshot.kitchen.dishes.get(code)
    if dish is None:
        raise NotFound(f"There is no dish {code!r} on {snapshot.position.day}.")
    figures = snapshot.costing.figures(("dish", code))
    published = dish_figures(dish, snapshot.kitchen.settings, figures.material, figures.labour, figures.known_material)
    return _looking_back(snapshot, _row(snapshot, dish, published.as_published(), published.status, costs_only),
                         costs_only)


def dish_rows(snapshot: Snapshot, costs_only: bool = False) -> list[Document]:
    """The costs of every dish, in the order of the codes: from one sweep, each equal to the dish's own row."""
    return snapshot.kept(("dish rows looking back", costs_only), lambda: [
        _looking_back(snapshot, row, costs_only) for row in rows_of_today(snapshot, costs_only)])


def rows_of_today(snapshot: Snapshot, costs_only: bool = False) -> list[Document]:
    """The rows of every dish as far as they rest on the day alone: `last_complete` is None. To look back costs a dish
    a cascade for each day on which something below it changed; who compares two menus does not ask for it."""
    return snapshot.kept(("dish rows", costs_only), lambda: _swept_rows(snapshot, costs_only))


def _swept_rows(snapshot: Snapshot, costs_only: bool) -> list[Document]:
    taken = rows_before(snapshot, ("dish rows", costs_only))
    if taken is None:
        standing = snapshot.menu.get().standing
        return [_swept_row(snapshot, standing[place] | figures, costs_only)
                for place, figures in enumerate(snapshot.columns().rows())]
    rows = taken.all_now(snapshot)
    for place, row in zip(taken.moved.rows.tolist(), _moved_rows(snapshot, taken, costs_only), strict=True):
        rows[place] = row
    return rows


def dish_rows_moved(snapshot: Snapshot) -> Sequence[tuple[str, Document, Document]] | None:
    """The rows, before and now, of every dish that can have moved since the snapshot before, in the order of the codes;
    None where all can have."""
    taken = rows_before(snapshot, ("dish rows", False))
    return None if taken is None else [
        (str(row["dish"]), row, now) for row, now in zip(
            [taken.rows[place] for place in taken.moved.rows.tolist()], _moved_rows(snapshot, taken, False),
            strict=True)]


def _moved_rows(snapshot: Snapshot, taken: RowsBefore, costs_only: bool) -> list[Document]:
    return snapshot.kept(("moved rows", costs_only), lambda: list(_rows_now(snapshot, taken, costs_only)))


def _rows_now(snapshot: Snapshot, taken: RowsBefore, costs_only: bool) -> Iterator[Document]:
    """The rows of dishes at other figures: of what rests on none of them, all stays where the dish is the same."""
    here, dishes = _of(snapshot), snapshot.kitchen.dishes
    were = dishes if snapshot.earlier is None else snapshot.earlier.kitchen.dishes
    for place, figures in zip(taken.moved.rows.tolist(), taken.moved.at[0].rows(RESTING_ON_COST), strict=True):
        row = taken.rows[place]
        code = str(row["dish"])
        if row["status"] == "complete" and _is_complete(figures) and were[code] is dishes[code]:
            yield {**row, **here, **figures}
        else:
            yield _swept_row(snapshot, standing_figures(snapshot.kitchen, code) | figures, costs_only)


def _swept_row(snapshot: Snapshot, figures: Document, costs_only: bool) -> Document:
    status = "complete" if _is_complete(figures) else "incomplete"
    return _row(snapshot, snapshot.kitchen.dishes[str(figures["dish"])], figures, status, costs_only)


def _row(snapshot: Snapshot, dish: Dish, figures: Document, status: str, costs_only: bool) -> Document:
    key = ("dish", dish.code)
    gaps = snapshot.costing.gaps(key) if status == "incomplete" else ()
    return _of(snapshot) | figures | {
        "status": status, "section": dish.section,
        "gaps": _gap_codes(gaps) if costs_only else gap_documents(gaps), "last_complete": None,
        "findings": finding_documents(findings_of(dish))} | _allergens(snapshot, key, costs_only)


def _is_complete(figures: Document) -> bool:
    return figures["food_cost"] is not None and figures["labour_cost"] is not None


def cut_row(snapshot: Snapshot, cut: str) -> Document:
    """The costs of one cut.

    Raises:  NotFound when no breakdown in use makes it on the snapshot's day.
    """
    sheet = _sheet(snapshot)
    if cut not in sheet.cuts:
        raise NotFound(f"No breakdown in use makes a cut {cut!r} on {snapshot.position.day}.")
    figures = sheet.figures(cut)
    key = ("cut", cut)
    pieces = snapshot.kept("pieces", lambda: Pieces(snapshot.kitchen))
    portions = portion_figures(figures, pieces).as_published()
    return _of(snapshot) | figures.as_published() | portions | {
        "uses": list(figures.output.uses), "gaps": gap_documents(snapshot.costing.gaps(key)),
        "findings": finding_documents(figures.findings)} | _allergens(snapshot, key, costs_only=False)


def cut_rows(snapshot: Snapshot) -> list[Document]:
    """The costs of every cut, in the order of the codes."""
    return snapshot.kept("cut rows", lambda: [cut_row(snapshot, cut) for cut in _sheet(snapshot).cuts])


def recipe_row(snapshot: Snapshot, code: str) -> Document:
    """The costs of one recipe.

    Raises:  NotFound when no such recipe stands on the snapshot's day.
    """
    recipe = snapshot.kitchen.recipes.get(code)
    if recipe is None:
        raise NotFound(f"There is no recipe {code!r} on {snapshot.position.day}.")
    figures = recipe_figures(recipe, snapshot.kitchen.settings.currency, snapshot.costing)
    key = ("recipe", code)
    measures = snapshot.kept("measures", lambda: measures_of(snapshot.kitchen))
    lines = line_figures(recipe.lines, measures, snapshot.costing)
    return _of(snapshot) | figures.as_published() | {
        "lines": [line.as_published() for line in lines],
        "gaps": gap_documents(snapshot.costing.gaps(key)), "findings": []} | _allergens(snapshot, key, costs_only=False)


def recipe_rows(snapshot: Snapshot) -> list[Document]:
    """The costs of every recipe, in the order of the codes."""
    return snapshot.kept("recipe rows", lambda: [
        recipe_row(snapshot, code) for code in sorted(snapshot.kitchen.recipes)])


def _sheet(snapshot: Snapshot) -> CutSheet:
    return snapshot.kept("cut sheet", lambda: CutSheet(snapshot.kitchen, snapshot.costing))


def _of(snapshot: Snapshot) -> Document:
    return {"as_of": snapshot.position.day.isoformat(), "revision": snapshot.position.revision}


def _looking_back(snapshot: Snapshot, row: Document, costs_only: bool) -> Document:
    """The row of a dish with its last complete food cost and the day of it where there is none now; to a key with
    `costs:read` alone only as far as it looks back."""
    if row["food_cost"] is not None:
        return row
    code, day = str(row["dish"]), snapshot.position.day
    found = snapshot.kept(("last complete", code), lambda: (last_complete(snapshot.recorded, code, day),))[0]
    if found is None or (costs_only and found.day < day - timedelta(days=DAYS_OPEN_TO_COSTS_KEYS)):
        return row
    return row | {"last_complete": {"food_cost": cost_in_words(found.food_cost), "as_of": found.day.isoformat()}}


def _gap_codes(gaps: Iterable[Gap]) -> list[dict[str, Any]]:
    return [{"code": code} for code in sorted({gap.code for gap in gaps})]


def gap_documents(gaps: Iterable[Gap]) -> list[dict[str, Any]]:
    """Gaps as the answers have them, with all that they say."""
    return [{"code": gap.code, "kind": gap.kind, "record": gap.record, "detail": gap.detail} | dict(gap.more)
            for gap in gaps]


def finding_documents(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Findings as the answers have them."""
    return [{"code": finding.code, "kind": finding.kind, "record": finding.record, "detail": finding.detail}
            for finding in findings]


def _allergens(snapshot: Snapshot, key: Key, costs_only: bool) -> Document:
    """What is declared below a record; which ingredients declare nothing, or only that there are some."""
    found = rolled_up(snapshot)[key]
    told = {"allergens": list(found.declared), "allergens_complete": not found.not_declared}
    return told if costs_only else told | {"allergens_not_declared": list(found.not_declared)}
