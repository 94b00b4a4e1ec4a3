"""Read price proposals: the whole with its counts and its effect on the menu, and its rows."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

from service.domain.history import record_on
from service.domain.price_proposal import PriceProposal, ProposalState
from service.domain.price_review import Review, counted, missing_items
from service.use_cases.documents import Document
from service.use_cases.ports import Ledger
from service.use_cases.position import Position
from service.use_cases.price_effect import MOST_DISHES_SHOWN, day_of_effect, effect_of_all
from service.use_cases.reviews import Look, Reviewed, Reviews, moved
from service.use_cases.snapshots import Snapshots

MOST_SHOWN = 200


@dataclass(frozen=True, slots=True)
class Proposals:
    """What reading proposals needs."""

    ledger: Ledger
    snapshots: Snapshots
    reviews: Reviews


def proposal_document(proposals: Proposals, proposal: PriceProposal) -> Document:
    """A proposal with all that its review shows, but for the rows."""
    look = proposals.reviews.look(proposal)
    reviewed = proposals.reviews.at(proposal, look)
    review = reviewed.review
    missing = _missing(proposals, proposal, reviewed)
    moved_rows = _moved_rows(proposals, proposal, review, look)
    return proposal_header(proposal, supplier_names(proposals.ledger)) | {
        "reviewed_on": look.today,
        "currency": reviewed.ground.settings.currency,
        "layout": _layout(proposal),
        "counts": _counts(review) | {"missing_items": len(missing)},
        "findings": [{"code": code, "detail": detail} for code, detail in review.findings] + _same_file(
            proposals, proposal),
        "missing_items": missing[:MOST_SHOWN],
        "effect": _effect(proposals, proposal, reviewed, look),
        "out_of_date": bool(moved_rows),
        "moved_rows": moved_rows[:MOST_SHOWN],
        "acceptance": _acceptance(proposal),
        "rejection": _rejection(proposal),
    }


def list_proposals(ledger: Ledger, before: int | None, limit: int, supplier: str | None, state: str | None
                   ) -> tuple[list[Document], int | None]:
    """At most `limit` proposals, the newest first; and the number before which the next page goes on."""
    found = ledger.proposals(before, limit + 1, supplier, state)
    page, name_of = found[:limit], supplier_names(ledger)
    return [proposal_header(one, name_of) for one in page], page[-1].id if len(found) > limit else None


def supplier_names(ledger: Ledger) -> Callable[[str], str | None]:
    """What suppliers are called now; None for one that is retired. Read once for a whole list."""
    suppliers, today = ledger.kitchen(ledger.head().revision).suppliers, ledger.today()

    def name_of(code: str) -> str | None:
        supplier = record_on(suppliers.get(code, ()), today)
        return None if supplier is None else supplier.name

    return name_of


def proposal_header(proposal: PriceProposal, name_of: Callable[[str], str | None]) -> Document:
    """A proposal as it stands in a list."""
    said = proposal.said
    return {
        "id": str(proposal.id), "supplier": proposal.supplier, "supplier_name": name_of(proposal.supplier),
        "state": proposal.state.value, "effective_from": proposal.effective_from or said.starts,
        "file_name": proposal.file_name, "file_hash": proposal.file_hash, "format": said.format.value,
        "reference": said.reference, "issued_on": said.issued_on, "made_at": proposal.made_at, "who": proposal.who,
        "base_revision": proposal.base_revision, "looks": proposal.looks, "spread_charges": proposal.spread_charges,
        "rows": proposal.rows,
    }


def _counts(review: Review) -> Document:
    found = Counter(code for one in review.rows for code in {finding.code for finding in one.findings})
    return {"rows": len(review.rows), **{standing.value: rows for standing, rows in counted(review.rows).items()},
            "by_finding": [{"code": code, "rows": rows} for code, rows in sorted(found.items())]}


def position_of(proposals: Proposals, reviewed: Reviewed, look: Look) -> Position:
    """The position that the effect of a review is of: the revision looked at, the day when all clean rows hold."""
    revision, revision_hash = proposals.ledger.figures_at(look.revision)
    return Position(revision, revision_hash, day_of_effect(reviewed.review, look.today))


def _effect(proposals: Proposals, proposal: PriceProposal, reviewed: Reviewed, look: Look) -> Document:
    return proposals.reviews.kept(("effect", look), MOST_DISHES_SHOWN, lambda: effect_of_all(
        proposals.snapshots, position_of(proposals, reviewed, look), proposal.supplier, reviewed.review))


def _missing(proposals: Proposals, proposal: PriceProposal, reviewed: Reviewed) -> list[Document]:
    before = proposals.ledger.list_before(proposal.supplier, proposal.id) if proposal.said.complete else None
    if before is None:
        return []
    rows = missing_items(proposals.reviews.rows(before), [one.row for one in reviewed.review.rows])
    items = reviewed.ground.items
    return [{"item": row.item, "name": row.name,
             "ingredient": items[row.item].ingredient if row.item in items else None,
             "detail": f"It was on the list of proposal {before.id} and is not on this one."} for row in rows]


def _moved_rows(proposals: Proposals, proposal: PriceProposal, review: Review, look: Look) -> list[int]:
    """The rows that would be judged otherwise by now."""
    head = proposals.ledger.head().revision
    if proposal.state is not ProposalState.OPEN or head == look.revision:
        return []
    now = proposals.reviews.at(proposal, replace(look, revision=head)).review
    return [before.row.number for before, after in zip(review.rows, now.rows, strict=True) if moved(before, after)]


def _same_file(proposals: Proposals, proposal: PriceProposal) -> list[Document]:
    """Other proposals of the very same file."""
    others = [one for one in proposals.ledger.proposals_like(proposal.supplier, proposal.file_hash)
              if one.id != proposal.id]
    return [{"code": "same_file", "detail": f"The same file is proposal {one.id}, {one.state.value}."}
            for one in others[:MOST_SHOWN]]


def _layout(proposal: PriceProposal) -> Document | None:
    layout = proposal.said.layout
    if layout is None:
        return None
    return {"columns": [{"means": means, "header": header} for means, header in layout.columns],
            "header_line": layout.header_line, "decimal_mark": layout.decimal_mark, "delimiter": layout.delimiter,
            "encoding": layout.encoding, "sheet": layout.sheet}


def _acceptance(proposal: PriceProposal) -> Document | None:
    end = proposal.end
    if end is None or proposal.state is not ProposalState.ACCEPTED:
        return None
    return {"revision": end.revision, "at": end.at, "who": end.who, "accepted": len(end.prices),
            "left": proposal.rows - len(end.prices),
            "overrides": [{"row": row, "reason": reason} for row, reason in sorted(end.overrides.items())]}


def _rejection(proposal: PriceProposal) -> Document | None:
    end = proposal.end
    if end is None or proposal.state is not ProposalState.REJECTED:
        return None
    return {"at": end.at, "who": end.who, "reason": end.reason}
