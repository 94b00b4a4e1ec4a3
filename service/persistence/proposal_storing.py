"""Storing price proposals, under the ledger's lock: drafts with their rows, later looks, how they ended, layouts.

Rules that always hold: a draft never changes; how a proposal stands changes only while it is open, so that one which
was accepted or rejected is as it was for good. None of it takes a revision.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from sqlalchemy import Connection, delete, func, insert, select, update

from service.domain.errors import ProposalClosed
from service.domain.price_list import Layout, PriceRow
from service.domain.price_proposal import PriceProposal
from service.persistence.numbering import UnknownIdentity
from service.persistence.records.price_list import layout_parts
from service.persistence.records.price_proposal import proposal_row, standing_row
from service.persistence.records.price_rows import rows_text
from service.persistence.tables import records
from service.persistence.tables.proposals import price_list_layout, price_proposal, price_proposal_part

ROWS_OF_A_PART = 1_000


@dataclass
class ProposalsGathered:
    """What one work is to keep of proposals, in the order it was given."""

    drafts: list[tuple[PriceProposal, Sequence[PriceRow]]] = field(default_factory=list)
    changes: list[PriceProposal] = field(default_factory=list)
    layouts: dict[str, Layout] = field(default_factory=dict)

    def add(self, connection: Connection, proposal: PriceProposal, rows: Sequence[PriceRow]) -> PriceProposal:
        """Take a draft; it gets the next number.

        Raises:  ValueError when it comes without all of its rows.
        """
        if len(rows) != proposal.rows:
            raise ValueError(f"The proposal has {proposal.rows} rows and is given {len(rows)}.")
        last = self.drafts[-1][0].id if self.drafts else connection.scalar(select(func.max(price_proposal.c.id))) or 0
        draft = replace(proposal, id=last + 1)
        self.drafts.append((draft, rows))
        return draft


def store_proposals(connection: Connection, gathered: ProposalsGathered) -> None:
    """Store what was gathered.

    Raises:  ProposalClosed for a change of one that is not open, UnknownIdentity for a supplier never recorded.
    """
    for draft, rows in gathered.drafts:
        connection.execute(insert(price_proposal), proposal_row(draft, _supplier_id(connection, draft.supplier)))
        _store_rows(connection, draft.id, rows)
    for changed in gathered.changes:
        _change(connection, changed)
    for supplier, layout in gathered.layouts.items():
        _keep_layout(connection, _supplier_id(connection, supplier), layout)


def _store_rows(connection: Connection, number: int, rows: Sequence[PriceRow]) -> None:
    parts = [
        {"proposal_id": number, "position": position, "rows": rows_text(rows[start:start + ROWS_OF_A_PART])}
        for position, start in enumerate(range(0, len(rows), ROWS_OF_A_PART), start=1)
    ]
    if parts:
        connection.execute(insert(price_proposal_part), parts)


def _change(connection: Connection, changed: PriceProposal) -> None:
    held = connection.execute(
        update(price_proposal).where(price_proposal.c.id == changed.id, price_proposal.c.state == "open")
        .values(standing_row(changed)))
    if held.rowcount != 1:
        raise ProposalClosed(f"The proposal {changed.id} is not open: it was accepted or rejected, or never made.")


def _keep_layout(connection: Connection, supplier_id: int, layout: Layout) -> None:
    connection.execute(delete(price_list_layout).where(price_list_layout.c.supplier_id == supplier_id))
    connection.execute(insert(price_list_layout), {"supplier_id": supplier_id, "layout": layout_parts(layout)})


def _supplier_id(connection: Connection, code: str) -> int:
    number: int | None = connection.scalar(select(records.supplier.c.id).where(records.supplier.c.code == code))
    if number is None:
        raise UnknownIdentity(f"There is no supplier {code!r}.")
    return number
