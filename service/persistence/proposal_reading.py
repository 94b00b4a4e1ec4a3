"""Reading price proposals, what their files say, and how a supplier's tables are read.

The newest has the greatest number: numbers are given one by one under the ledger's lock.
"""

from typing import Any

from sqlalchemy import Connection, Select, literal, select

from service.domain.price_list import Layout, PriceRow
from service.domain.price_proposal import PriceProposal, ProposalState
from service.persistence.column_types import Flag
from service.persistence.records.price_list import layout
from service.persistence.records.price_proposal import price_proposal
from service.persistence.records.price_rows import rows_said
from service.persistence.tables import records
from service.persistence.tables.proposals import price_list_layout
from service.persistence.tables.proposals import price_proposal as table
from service.persistence.tables.proposals import price_proposal_part as part

_supplier = records.supplier.c


def proposal(connection: Connection, number: int) -> PriceProposal | None:
    """One price proposal, or None."""
    return _first(connection, _asked().where(table.c.id == number))


def proposals(connection: Connection, before: int | None, limit: int, supplier: str | None, state: str | None
              ) -> tuple[PriceProposal, ...]:
    """At most `limit` proposals, the newest first, those with a smaller number than `before`."""
    asked = _asked() if before is None else _asked().where(table.c.id < before)
    asked = asked if supplier is None else asked.where(_supplier.code == supplier)
    asked = asked if state is None else asked.where(table.c.state == state)
    return _read(connection, asked.limit(limit))


def proposals_like(connection: Connection, supplier: str, file_hash: str) -> tuple[PriceProposal, ...]:
    """The proposals made of the same file for the same supplier, the newest first."""
    return _read(connection, _asked().where(_supplier.code == supplier, table.c.file_hash == file_hash))


def list_before(connection: Connection, supplier: str, number: int) -> PriceProposal | None:
    """The supplier's latest accepted proposal of a complete list before this one."""
    return _first(connection, _asked().where(
        _supplier.code == supplier, table.c.id < number, table.c.state == ProposalState.ACCEPTED.value,
        table.c.complete == literal(True, Flag())))


def proposal_rows(connection: Connection, number: int) -> tuple[PriceRow, ...]:
    """What the file of a proposal says, row by row."""
    asked = select(part.c.rows).where(part.c.proposal_id == number).order_by(part.c.position)
    return tuple([row for text in connection.scalars(asked) for row in rows_said(text)])


def layout_of(connection: Connection, supplier: str) -> Layout | None:
    """How this supplier's tables were read the last time."""
    kept = connection.scalars(
        select(price_list_layout.c.layout).join(records.supplier, _supplier.id == price_list_layout.c.supplier_id)
        .where(_supplier.code == supplier)).one_or_none()
    return None if kept is None else layout(kept)


def _asked() -> Select[Any]:
    return (
        select(table, _supplier.code.label("supplier"))
        .join(records.supplier, _supplier.id == table.c.supplier_id)
        .order_by(table.c.id.desc())
    )


def _read(connection: Connection, asked: Select[Any]) -> tuple[PriceProposal, ...]:
    return tuple([price_proposal(row) for row in connection.execute(asked)])


def _first(connection: Connection, asked: Select[Any]) -> PriceProposal | None:
    row = connection.execute(asked.limit(1)).one_or_none()
    return None if row is None else price_proposal(row)
