"""What reading price proposals needs from the ledger."""

from collections.abc import Sequence
from typing import Protocol

from service.domain.price_list import Layout, PriceRow
from service.domain.price_proposal import PriceProposal


class ProposalReads(Protocol):
    """Suppliers' files as drafts: what is kept of them outside of a write."""

    def proposal(self, number: int) -> PriceProposal | None:
        """One price proposal, or None."""

    def proposals(self, before: int | None, limit: int, supplier: str | None, state: str | None
                  ) -> Sequence[PriceProposal]:
        """At most `limit` proposals, the newest first, those with a smaller number than `before` (None: all)."""

    def proposals_like(self, supplier: str, file_hash: str) -> Sequence[PriceProposal]:
        """The proposals made of the same file for the same supplier, the newest first."""

    def proposal_rows(self, number: int) -> Sequence[PriceRow]:
        """What the file of a proposal says, row by row."""

    def list_before(self, supplier: str, number: int) -> PriceProposal | None:
        """The supplier's latest accepted proposal of a complete list before this one."""

    def layout_of(self, supplier: str) -> Layout | None:
        """How this supplier's tables were read the last time."""
