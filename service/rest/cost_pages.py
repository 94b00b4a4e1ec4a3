"""A list of costs as bytes: a page of it as JSON, or all of it as CSV; the whole rows, or what is chosen of them.

Rules that always hold: what most poll (the first page of everything, and everything as CSV) is made once a snapshot and
kept as long as it; all else is kept with it while it is asked for and there is room.
"""

from collections.abc import Sequence

from flask import request

from service.domain.errors import WrongValue
from service.rest.api_keys import caller
from service.rest.chosen_rows import Chosen
from service.rest.conditional import Prebuilt
from service.rest.cost_lists import CostList
from service.rest.costs_media import JSON, csv_answer, csv_prebuilt, json_bytes, prebuilt
from service.rest.csv_answers import Column
from service.rest.paging import LIMIT
from service.rest.position import Page, Positions
from service.rest.recent_answers import recent_answers
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot


def whole(costs_of: CostList, snapshot: Snapshot, costs_only: bool, chosen: Chosen | None) -> Prebuilt:
    """All rows as CSV.

    Raises:  WrongValue for a member that is no column.
    """
    variant, filename = _variant(costs_of, costs_only), f"{costs_of.name}-{snapshot.position.day}.csv"
    if chosen is None:
        return csv_answer(snapshot, variant, costs_of.columns, lambda: costs_of.rows(snapshot, costs_only), filename)
    columns, variant = _columns(costs_of, chosen.members), f"{variant}.{chosen.mark}"
    return recent_answers(snapshot).kept(f"{variant}-csv", lambda: csv_prebuilt(
        snapshot, variant, columns, chosen.of(costs_of.rows(snapshot, costs_only)), filename))


def page_of(costs_of: CostList, snapshot: Snapshot, page: Page, costs_only: bool, positions: Positions) -> Prebuilt:
    """A page of all rows; the first one is kept, as it is what is polled: of round lengths alone, so that nobody makes
    a worker keep the list a thousand times over.

    One that goes on belongs to the key and to the day and revision as they were asked for, as its cursor does.
    """
    rows = costs_of.rows(snapshot, costs_only)
    whole = len(rows) <= page.limit
    asked = [] if whole else [f"{name}={request.args[name]}" for name in ("as_of", "known_at") if name in request.args]
    variant = ".".join((costs_of.name, str(page.limit) if not whole else "all", "costs" if costs_only else "full",
                        *(() if whole else (caller().key_id, *asked))))
    if page.after == "" and not asked and (whole or page.limit % LIMIT == 0):
        return snapshot.kept((variant, "page"), lambda: _built(costs_of, snapshot, page, rows, variant, positions))
    variant = f"{variant}.{page.after}"
    return recent_answers(snapshot).kept(
        variant, lambda: _built(costs_of, snapshot, page, rows, variant, positions))


def chosen_page(costs_of: CostList, snapshot: Snapshot, page: Page, costs_only: bool, positions: Positions,
                chosen: Chosen) -> Prebuilt:
    """A page of the rows that are chosen: one for all keys where it holds them all, else the key's own, as its cursor
    is."""
    recent = recent_answers(snapshot)
    shared = ".".join((_variant(costs_of, costs_only), chosen.mark, str(page.limit)))
    own = f"{shared}.{caller().key_id}.{page.after}"
    found = recent.found(own) or (recent.found(shared) if page.after == "" else None)
    if found is not None:
        return found
    rows = chosen.of(costs_of.rows(snapshot, costs_only))
    variant = shared if page.after == "" and len(rows) <= page.limit else own
    return recent.kept(variant, lambda: _built(costs_of, snapshot, page, rows, variant, positions, chosen))


def _columns(costs_of: CostList, members: Sequence[str] | None) -> Sequence[Column]:
    for name in members or ():
        if costs_of.column(name) is None:
            raise WrongValue(costs_of.no_such_column(name), parameter="fields", error_code="unknown-field")
    return costs_of.columns_named(members)


def _variant(costs_of: CostList, costs_only: bool) -> str:
    return f"{costs_of.name}{'.costs' if costs_only else ''}"


def _built(costs_of: CostList, snapshot: Snapshot, page: Page, rows: Sequence[Document], variant: str,
           positions: Positions, chosen: Chosen | None = None) -> Prebuilt:
    start = next((n for n, row in enumerate(rows) if row[costs_of.code] > page.after), len(rows))
    shown = rows[start:start + page.limit]
    goes_on = shown[-1][costs_of.code] if start + page.limit < len(rows) else None
    body, _, headers = positions.cursors.page(shown if chosen is None else chosen.shown(shown),
                                              revision=snapshot.position.revision, as_of=snapshot.position.day,
                                              next_position=goes_on)
    return prebuilt(snapshot.position, variant, json_bytes(body), JSON, list(headers.items()))
