"""Accept a price proposal: its rows become prices in one revision, or nothing does.

Under the ledger's lock the rows are held against the kitchen as it stands now, and today. A row that would be judged
otherwise than at the last look stops the whole: somebody has to look again. Refused rows stay visible. Reviews are made
before the ledger is locked, since that of a long list takes seconds.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from service.domain.errors import NotFound, ProposalClosed, ProposalOutOfDate, WrongValue
from service.domain.history import Mark
from service.domain.price import Price
from service.domain.price_proposal import PriceProposal, ProposalEnd, ProposalState
from service.domain.price_review import Review
from service.domain.reviewed_row import ReviewedRow
from service.domain.row_finding import Standing
from service.domain.row_price import ProposedPrice
from service.use_cases.answered_once import Receipt, answered_once
from service.use_cases.documents import moment, price_entry
from service.use_cases.ports import Asker, Entry, Ledger, WriteWork
from service.use_cases.reviews import Look, Reviewed, Reviews, moved
from service.use_cases.rows_chosen import MOST_ROWS_NAMED, Chosen, rows_chosen

LONGEST_REFERENCE = 120


def accept_prices(ledger: Ledger, reviews: Reviews, number: int, chosen: Chosen, asker: Asker) -> Receipt:
    """Record the prices of the rows chosen.

    Raises:  NotFound, ProposalClosed, ProposalOutOfDate, Refused with every row that cannot be taken,
             IdempotencyKeyReused.
    """
    ahead = _reviewed_ahead(ledger, reviews, number, chosen)

    def effect(work: WriteWork) -> dict[str, Any]:
        proposal = open_proposal(work, number)
        _hold_to_look(proposal, chosen)
        look = Look(proposal.id, proposal.base_revision, chosen.reviewed_on or work.today)
        seen = (ahead.get(look) or reviews.at(proposal, look)).review
        rows = rows_chosen(seen, chosen)
        current = Look(number, work.head.revision, work.today)
        if current != look:
            work.kitchen()  # read under the lock, where no other writer can move it; the review finds it kept
            now = (ahead.get(current) or reviews.at(proposal, current)).review
            _hold_to_ground(look, seen, now, rows, all_clean=chosen.rows is None)
        overrides = dict(chosen.overrides)
        prices = _record(work, proposal, [seen.rows[row - 1] for row in rows], overrides)
        work.change_proposal(replace(proposal, state=ProposalState.ACCEPTED, end=ProposalEnd(
            work.now, asker.key_id, asker.name, work.head.revision + 1, "", prices, overrides)))
        return {"id": number}

    return answered_once(ledger, asker, effect)


def reject_prices(ledger: Ledger, number: int, reason: str, asker: Asker) -> Receipt:
    """Close a proposal without recording anything. Takes no revision.

    Raises:  WrongValue without a reason, NotFound, ProposalClosed, IdempotencyKeyReused.
    """
    if not reason.strip():
        raise WrongValue("Say why it is rejected.", "#/reason")

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
                             f"{moment(proposal.end.at, 'seconds')}.",
                             state=proposal.state.value, revision=proposal.end.revision)
    return proposal


def _reviewed_ahead(ledger: Ledger, reviews: Reviews, number: int, chosen: Chosen) -> Mapping[Look, Reviewed]:
    """The reviews that will be asked for under the lock, made before it, so that nobody who writes waits for them."""
    proposal = ledger.proposal(number)
    if proposal is None or proposal.end is not None or chosen.looks not in (None, proposal.looks):
        return {}
    today = ledger.today()
    seen = Look(number, proposal.base_revision, chosen.reviewed_on or today)
    return {look: reviews.at(proposal, look) for look in (seen, Look(number, ledger.head().revision, today))}


def _hold_to_look(proposal: PriceProposal, chosen: Chosen) -> None:
    """Refuse when somebody looked again since the review that was seen."""
    if chosen.looks not in (None, proposal.looks):
        raise ProposalOutOfDate(f"The review that you saw is of look {chosen.looks}, and the last one is look "
                                f"{proposal.looks}: read it again.", rows=[])


def _hold_to_ground(look: Look, seen: Review, now: Review, rows: Sequence[int], all_clean: bool) -> None:
    """Refuse when a row chosen would be judged otherwise by now, or another row is clean where all clean ones are asked
    for."""
    chosen = set(rows)
    changed = [before.row.number for before, after in zip(seen.rows, now.rows, strict=True)
               if (before.row.number in chosen and moved(before, after))
               or (all_clean and after.standing is Standing.CLEAN and before.standing is not Standing.CLEAN)]
    if changed:
        raise ProposalOutOfDate(
            f"What {len(changed)} of the rows were reviewed against has changed since revision "
            f"{look.revision} on {look.today}: look again.", rows=changed[:MOST_ROWS_NAMED])


def _record(work: WriteWork, proposal: PriceProposal, taken: Sequence[ReviewedRow], overrides: Mapping[int, str]
            ) -> dict[int, str]:
    """Record the prices, and an entry that says of which file; the price ids by row."""
    reference = (proposal.said.reference or proposal.file_name)[:LONGEST_REFERENCE]
    ids: dict[int, str] = {}
    for one in taken:
        price = one.price
        if price is None:
            raise AssertionError(f"Row {one.row.number} has no price and was not refused.")
        recorded = _price(price, proposal.supplier, reference)
        entry = price_entry(recorded) | {"proposal": str(proposal.id), "row": one.row.number}
        mark = work.next_mark(Entry("record_price", "price", price.ingredient, entry))
        work.add_price(replace(recorded, made=mark))
        ids[one.row.number] = f"{mark.revision}-{mark.entry}"
    work.next_mark(Entry("accept_proposal", "price_proposal", str(proposal.id), {
        "supplier": proposal.supplier, "file_name": proposal.file_name, "file_hash": proposal.file_hash,
        "proposed_by": proposal.who, "base_revision": proposal.base_revision, "accepted": len(taken),
        "left": proposal.rows - len(taken),
        "overrides": [{"row": row, "reason": reason} for row, reason in sorted(overrides.items())]}))
    return ids


def _price(price: ProposedPrice, supplier: str, reference: str) -> Price:
    """The price, before an entry of the ledger has named it."""
    return Price(price.ingredient, supplier, price.amount, price.pack_quantity, price.pack_unit, price.starts,
                 price.ends, reference, Mark(0, 0))
