"""Propose prices: a supplier's file becomes a draft. It takes no revision, and nothing is in force yet.

The file is read before the ledger is locked. The same file for the same supplier and terms, read in the same way, is
recognised: while its proposal is open or accepted, it is answered with again. Once accepted it can be proposed anew by
saying so, for rows that were left; what was recorded then is found to be in force.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from service.domain.errors import UnreadableFile, WrongValue
from service.domain.price_list import PriceList
from service.domain.price_proposal import PriceProposal, ProposalState
from service.use_cases.answered_once import Receipt, answered_once
from service.use_cases.line_checks import reference_fault
from service.use_cases.ports import Asker, Ledger, WriteWork
from service.use_cases.price_files import HowToRead, ReadPriceFile


@dataclass(frozen=True, slots=True)
class ProposalAsked:
    """What comes with a file. `columns` names columns by their headers where they cannot be told, by meaning; `again`
    proposes a file anew that was accepted already."""

    supplier: str
    effective_from: date | None = None
    file_name: str = ""
    sheet: str = ""
    spread_charges: bool = False
    columns: Mapping[str, str] | None = None
    again: bool = False


def propose_prices(ledger: Ledger, read_file: ReadPriceFile, content: bytes, asked: ProposalAsked, asker: Asker
                   ) -> Receipt:
    """Keep a draft of what the file says; the receipt holds its number as `id`, and whether it is `new`.

    Raises:  UnknownReference or RetiredReference for the supplier, UnreadableFile, FileTooLarge, ColumnsNotRecognised,
             WrongValue where no day is given from which the prices hold, IdempotencyKeyReused.
    """
    _hold_to_supplier(ledger, asked)
    columns = dict(asked.columns or {})
    said = read_file(content, HowToRead(columns, asked.sheet, ledger.layout_of(asked.supplier)))
    _hold_to_start(said, asked)
    if said.is_invoice:
        asked = replace(asked, effective_from=None)
    file_hash = hashlib.sha256(content).hexdigest()

    def effect(work: WriteWork) -> dict[str, Any]:
        known = next((one for one in work.proposals_like(asked.supplier, file_hash) if _is_it(one, asked, said)), None)
        if known is not None:
            return {"id": known.id, "new": False}
        draft = PriceProposal(
            0, asked.supplier, asked.effective_from, asked.spread_charges, asked.file_name, file_hash,
            replace(said, rows=()), len(said.rows), work.now, asker.key_id, asker.name, work.head.revision)
        if columns and said.layout is not None:
            work.remember_layout(asked.supplier, said.layout)
        return {"id": work.add_proposal(draft, said.rows).id, "new": True}

    return answered_once(ledger, asker, effect, moves_figures=False)


def _hold_to_supplier(ledger: Ledger, asked: ProposalAsked) -> None:
    fault = reference_fault(ledger.kitchen(ledger.head().revision), "supplier", asked.supplier, ledger.today())
    if fault is not None:
        raise type(fault)(fault.detail, parameter="supplier")


def _hold_to_start(said: PriceList, asked: ProposalAsked) -> None:
    """A list's prices start on the day asked for, or where the file says; an invoice's on its own day."""
    if not said.rows:
        raise UnreadableFile("The file has a header and no rows under it: there is no price to propose.", why="no-rows")
    if said.is_invoice and asked.effective_from not in (None, said.starts):
        raise WrongValue(f"An invoice's prices start on its delivery, or on its date of issue: {said.starts}. Leave "
                         "effective_from out.", parameter="effective_from")
    if said.starts is None and asked.effective_from is None and any(row.starts is None for row in said.rows):
        raise WrongValue("Say from which day the list holds: the file does not.", parameter="effective_from",
                         error_code="required")


def _is_it(known: PriceProposal, asked: ProposalAsked, said: PriceList) -> bool:
    """Whether a proposal of the same file is the one asked for: of the same terms, and read by the same columns."""
    ended = (ProposalState.REJECTED, ProposalState.ACCEPTED) if asked.again else (ProposalState.REJECTED,)
    return (known.state not in ended and known.effective_from == asked.effective_from
            and known.spread_charges == asked.spread_charges and known.said.layout == said.layout)
