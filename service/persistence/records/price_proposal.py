"""Price proposals and their table.

How one ended is JSON. The prices that were recorded for its rows are kept as runs: `[14, 3, 20]` says that row 14
became entry 3 of the revision, and so did each of the 19 rows after it its next entry.
"""

from collections.abc import Mapping
from typing import Any

from service.domain.price_proposal import PriceProposal, ProposalEnd, ProposalState
from service.persistence.column_types import to_instant
from service.persistence.records.price_list import heading, list_said
from service.persistence.records.shelf import Row, Values


def proposal_row(proposal: PriceProposal, supplier_id: int) -> Values:
    return {
        "id": proposal.id,
        "supplier_id": supplier_id,
        "effective_from": proposal.effective_from,
        "spread_charges": proposal.spread_charges,
        "file_name": proposal.file_name,
        "file_hash": proposal.file_hash,
        "made_at": proposal.made_at,
        "key_id": proposal.key_id,
        "who": proposal.who,
        "row_count": proposal.rows,
        "complete": proposal.said.complete,
        "said": heading(proposal.said),
        **standing_row(proposal),
    }


def standing_row(proposal: PriceProposal) -> Values:
    """What may still change while it is open."""
    return {
        "state": proposal.state.value,
        "base_revision": proposal.base_revision,
        "looks": proposal.looks,
        "ended": proposal.end and _end_parts(proposal.end),
    }


def price_proposal(row: Row) -> PriceProposal:
    """The proposal of a row that also has its supplier's code."""
    return PriceProposal(
        id=row.id,
        supplier=row.supplier,
        effective_from=row.effective_from,
        spread_charges=row.spread_charges,
        file_name=row.file_name,
        file_hash=row.file_hash,
        said=list_said(row.said, row.complete),
        rows=row.row_count,
        made_at=row.made_at,
        key_id=row.key_id,
        who=row.who,
        base_revision=row.base_revision,
        looks=row.looks,
        state=ProposalState(row.state),
        end=row.ended and _end(row.ended),
    )


def _end_parts(end: ProposalEnd) -> dict[str, Any]:
    return {
        "at": end.at,
        "key_id": end.key_id,
        "who": end.who,
        "revision": end.revision,
        "reason": end.reason,
        "prices": _runs(end.prices, end.revision),
        "overrides": sorted(end.overrides.items()),
    }


def _end(parts: dict[str, Any]) -> ProposalEnd:
    at, revision = to_instant(parts["at"]), parts["revision"]
    assert at is not None  # noqa: S101  (every end has its moment)
    prices = {first + more: f"{revision}-{entry + more}"
              for first, entry, rows in parts["prices"] for more in range(rows)}
    return ProposalEnd(at, parts["key_id"], parts["who"], revision, parts["reason"], prices, dict(parts["overrides"]))


def _runs(prices: Mapping[int, str], revision: int | None) -> list[list[int]]:
    """Rows and entries that count on together.

    Raises:  ValueError for a price of another revision.
    """
    named = sorted(prices.items())
    start = len(f"{revision}-")
    entries = [int(price[start:]) for _, price in named]
    if [f"{revision}-{entry}" for entry in entries] != [price for _, price in named]:
        raise ValueError(f"A price of this proposal is none of revision {revision}.")
    runs: list[list[int]] = []
    ahead = None
    for (row, _), entry in zip(named, entries, strict=True):
        if ahead is not None and row - entry == ahead and row == runs[-1][0] + runs[-1][2]:
            runs[-1][2] += 1
        else:
            runs.append([row, entry, 1])
            ahead = row - entry
    return runs
