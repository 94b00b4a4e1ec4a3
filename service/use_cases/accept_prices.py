"""Accept a price proposal: its rows become prices in one revision, or nothing does.

Under the ledger's lock the rows are held against the kitchen as it stands now. A row that would be judged otherwise
than at the last look stops the whole: somebody has to look again. Refused rows stay visible.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from service.domain.errors import (
    Fault,
    NotFound,
    ProposalClosed,
    ProposalOutOfDate,
    Refused,
    WrongValue,
)
from service.domain.history import Mark
from service.domain.price import Price
from service.domain.price_proposal import PriceProposal, ProposalEnd, ProposalState
from service.domain.price_review import Review
from service.domain.reviewed_row import ReviewedRow
from service.domain.row_finding import Standing
from service.domain.row_price import ProposedPrice
from service.domain.rows_together import rivals
from service.use_cases.answered_once import Receipt, answered_once
from service.use_cases.documents import plain
from service.use_cases.ports import Asker, Entry, Ledger, WriteWork
from service.use_cases.reviews import Look, Reviews, moved, reviewed

LONGEST_REFERENCE = 120
MOST_ROWS_NAMED = 200


@dataclass(frozen=True, slots=True)
class Chosen:
    """Which rows: `rows` None is all clean ones; `overrides` are further rows, each with the reason for taking it."""

    rows: Sequence[int] | None
    overrides: Sequence[tuple[int, str]] = ()


def accept_prices(ledger: Ledger, reviews: Reviews, number: int, chosen: Chosen, asker: Asker) -> Receipt:
    """Record the prices of the rows chosen.

    Raises:  NotFound, ProposalClosed, ProposalOutOfDate, Refused with every row that cannot be taken,
             IdempotencyKeyReused.
    """

    def effect(work: WriteWork) -> dict[str, Any]:
        proposal = open_proposal(work, number)
        seen = reviews.at(proposal, Look(proposal.id, proposal.base_revision, work.today)).review
        rows = _rows_chosen(seen, chosen)
        _hold_to_ground(work, reviews, proposal, seen, rows)
        overrides = dict(chosen.overrides)
        prices = _record(work, proposal, [seen.rows[row - 1] for row in rows], overrides)
        work.change_proposal(replace(proposal, state=ProposalState.ACCEPTED, end=ProposalEnd(
            work.now, asker.key_id, asker.name, work.head.revision + 1, "", prices, overrides)))
        return {"id": number}

    return answered_once(ledger, asker, effect)


def reject_prices(ledger: Ledger, number: int, reason: str, asker: Asker) -> Receipt:
    """Close a proposal without recording anything. Takes no revision.

    Raises:  NotFound, ProposalClosed, IdempotencyKeyReused.
    """

    def effect(work: WriteWork) -> dict[str, Any]:
        proposal = open_proposal(work, number)
        work.change_proposal(replace(proposal, state=ProposalState.REJECTED, end=ProposalEnd(
            work.now, asker.key_id, asker.name, None, reason)))
        return {"id": number}

    return answered_once(ledger, asker, effect, moves_figures=False)


def look_again(ledger: Ledger, number: int, asker: Asker) -> Receipt:
    """Review a proposal against the ledger as it stands now. Takes no revision.

    Raises:  NotFound, ProposalClosed, IdempotencyKeyReused.
    """

    def effect(work: WriteWork) -> dict[str, Any]:
        proposal = open_proposal(work, number)
        work.change_proposal(replace(proposal, base_revision=work.head.revision, looks=proposal.looks + 1))
        return {"id": number}

    return answered_once(ledger, asker, effect, moves_figures=False)


def open_proposal(work: WriteWork, number: int) -> PriceProposal:
    """The proposal, which must still be open.

    Raises:  NotFound, ProposalClosed.
    """
    proposal = work.proposal(number)
    if proposal is None:
        raise NotFound(f"There is no price proposal {str(number)!r}.")
    if proposal.end is not None:
        raise ProposalClosed(f"The proposal was {proposal.state} by {proposal.end.who} at "
                             f"{proposal.end.at.isoformat(timespec='seconds').replace('+00:00', 'Z')}.",
                             state=proposal.state.value, revision=proposal.end.revision)
    return proposal


def _rows_chosen(seen: Review, chosen: Chosen) -> list[int]:
    """The numbers of the rows to be recorded, in the order of the file.

    Raises:  Refused with every row that cannot be taken, or WrongValue when there is none.
    """
    reasons = dict(chosen.overrides)
    faults = _faults_named(seen, chosen.rows or (), "#/rows/{}", reasons)
    faults += _faults_named(seen, [row for row, _ in chosen.overrides], "#/overrides/{}/row", reasons)
    if faults:
        raise Refused(faults)
    named = set(reasons) | (set(chosen.rows) if chosen.rows is not None else {
        one.row.number for one in seen.rows if one.standing is Standing.CLEAN})
    rows = sorted(named)
    if not rows:
        raise WrongValue("There is no row to accept: name rows, give overrides with reasons, or reject the proposal.",
                         "#/rows")
    _hold_to_one_each(seen, rows)
    return rows


def _faults_named(seen: Review, rows: Sequence[int], pointer: str, reasons: Mapping[int, str]) -> list[Fault]:
    faults: list[Fault] = []
    for place, number in enumerate(rows):
        why = _why_not(seen, number, reasons)
        if why is None and rows.index(number) != place:
            why = f"Row {number} is named twice; name it once."
        if why is not None:
            faults.append(WrongValue(why, pointer.format(place), row=number))
    return faults


def _why_not(seen: Review, number: int, reasons: Mapping[int, str]) -> str | None:
    """Why a row that is named cannot be taken."""
    if not 1 <= number <= len(seen.rows):
        return f"There is no row {number}: the proposal has {len(seen.rows)}."
    one = seen.rows[number - 1]
    found = ", ".join(finding.code for finding in one.findings)
    if one.standing is Standing.BLOCKED:
        return f"Row {number} cannot become a price: {found}."
    if one.standing is Standing.UNCHANGED:
        return f"Row {number} is the price in force already; there is nothing to record."
    if one.standing is Standing.QUESTIONED and number not in reasons:
        return f"Row {number} needs a reason: {found}. Give it in overrides."
    return None


def _hold_to_one_each(seen: Review, rows: Sequence[int]) -> None:
    """Of rows that price the same ingredient from the same day, one at most."""
    taken = [seen.rows[row - 1] for row in rows]
    groups = rivals([one.price for one in taken])
    faults = [WrongValue(f"Rows {', '.join(str(taken[place].row.number) for place in places)} would each be the price "
                         f"of {ingredient}; take one of them.", "#/overrides")
              for (ingredient, _, _), places in groups.items()]
    if faults:
        raise Refused(faults)


def _hold_to_ground(work: WriteWork, reviews: Reviews, proposal: PriceProposal, seen: Review, rows: Sequence[int]
                    ) -> None:
    """Refuse when a row chosen would be judged otherwise by now."""
    if work.head.revision == proposal.base_revision:
        return
    now = reviewed(proposal, reviews.rows(proposal), work.kitchen(), work.today).review
    changed = [row for row in rows if moved(seen.rows[row - 1], now.rows[row - 1])]
    if changed:
        raise ProposalOutOfDate(
            f"What {len(changed)} of the rows were reviewed against has changed since revision "
            f"{proposal.base_revision}: look again.", rows=changed[:MOST_ROWS_NAMED])


def _record(work: WriteWork, proposal: PriceProposal, taken: Sequence[ReviewedRow], overrides: Mapping[int, str]
            ) -> dict[int, str]:
    """Record the prices, and an entry that says of which file; the price ids by row."""
    reference = (proposal.said.reference or proposal.file_name)[:LONGEST_REFERENCE]
    ids: dict[int, str] = {}
    for one in taken:
        price = one.price
        if price is None:
            raise AssertionError(f"Row {one.row.number} has no price and was not refused.")
        body = _entry_body(price, proposal, reference, one.row.number)
        mark = work.next_mark(Entry("record_price", "price", price.ingredient, body))
        work.add_price(_price(price, proposal.supplier, reference, mark))
        ids[one.row.number] = f"{mark.revision}-{mark.entry}"
    work.next_mark(Entry("accept_proposal", "price_proposal", str(proposal.id), {
        "supplier": proposal.supplier, "file_name": proposal.file_name, "file_hash": proposal.file_hash,
        "proposed_by": proposal.who, "base_revision": proposal.base_revision, "accepted": len(taken),
        "left": proposal.rows - len(taken),
        "overrides": [{"row": row, "reason": reason} for row, reason in sorted(overrides.items())]}))
    return ids


def _price(price: ProposedPrice, supplier: str, reference: str, mark: Mark) -> Price:
    return Price(price.ingredient, supplier, price.amount, price.pack_quantity, price.pack_unit, price.starts,
                 price.ends, reference, mark)


def _entry_body(price: ProposedPrice, proposal: PriceProposal, reference: str, row: int) -> dict[str, Any]:
    """As a price that is recorded by hand, and the row that it came from."""
    return {
        "ingredient": price.ingredient, "supplier": proposal.supplier, "amount": plain(price.amount),
        "pack_quantity": plain(price.pack_quantity), "pack_unit": price.pack_unit,
        "effective_from": price.starts.isoformat(), "effective_to": price.ends and price.ends.isoformat(),
        "reference": reference, "withdrawn": None, "proposal": str(proposal.id), "row": row}
