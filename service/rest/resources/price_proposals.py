"""Price proposals over HTTP: finance sends a supplier's file, reads its review, and somebody accepts it."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from flask import request

from service.rest.answered import answered
from service.rest.api_keys import needs
from service.rest.asking import asker
from service.rest.http_faults import WrongCursor
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.price_files import PRICE_FILES
from service.rest.schemas.price_proposals import (
    AcceptanceRequest,
    NoRequest,
    ProposalAnswer,
    ProposalPage,
    ProposalQuery,
    ProposalsQuery,
    RowsQuery,
)
from service.rest.schemas.prices import ReasonRequest
from service.rest.schemas.proposal_rows import ProposalRowPage
from service.use_cases.accept_prices import accept_prices, look_again, reject_prices
from service.use_cases.answered_once import Receipt
from service.use_cases.ledger_unavailable import LedgerUnavailable, MayBeRecorded
from service.use_cases.price_files import ReadPriceFile
from service.use_cases.propose_prices import ProposalAsked, propose_prices
from service.use_cases.read_proposal_rows import RowsAsked, proposal_rows
from service.use_cases.read_proposals import Proposals, list_proposals, proposal_document
from service.use_cases.reviews import proposal_numbered
from service.use_cases.rows_chosen import Chosen

_COLUMN = "_column"


def price_proposals(positions: Positions, proposals: Proposals, read_file: ReadPriceFile) -> Blueprint:
    """`/v1/price-proposals`."""
    blueprint = Blueprint("price-proposals", "A supplier's price list or invoice as a draft: reviewed, then accepted.",
                          url_prefix="/v1/price-proposals")
    _propose(blueprint, proposals, read_file)
    _reads(blueprint, positions, proposals)
    _decisions(blueprint, proposals)
    return blueprint


def _propose(blueprint: Blueprint, proposals: Proposals, read_file: ReadPriceFile) -> None:
    @blueprint.post("")
    @needs("prices:write")
    @blueprint.arguments(ProposalQuery, location="query")
    @blueprint.file(PRICE_FILES)
    @blueprint.idempotent
    @blueprint.response(200, ProposalAnswer, created=True)
    def post_price_proposal(query: dict[str, Any], content: bytes) -> Any:
        """Propose a supplier's file.

        The body is the file itself: CSV, XLSX, or a UBL 2.1 Catalogue or Invoice, told by its content. Nothing is in
        force yet. The same file again, for the same supplier and terms, is answered with the proposal that it is.
        """
        columns = {name.removesuffix(_COLUMN): query.pop(name) for name in list(query) if name.endswith(_COLUMN)}
        receipt = propose_prices(proposals.ledger, read_file, content, ProposalAsked(**query, columns=columns), asker())
        status = 201 if receipt.document["new"] else 200
        document, status, headers = _decided(proposals, receipt, status)
        return document, status, headers | {"Location": f"{request.path}/{document['id']}"}


def _reads(blueprint: Blueprint, positions: Positions, proposals: Proposals) -> None:
    @blueprint.get("")
    @needs("read")
    @blueprint.arguments(ProposalsQuery, location="query")
    @blueprint.response(200, ProposalPage, paged=True)
    def list_price_proposals(query: Mapping[str, Any]) -> Any:
        """List the proposals, the newest first."""
        cursor = positions.cursors.place(query)
        data, next_before = list_proposals(
            proposals.ledger, cursor and cursor.position, query["limit"], query.get("supplier"), query.get("state"))
        return positions.cursors.page(data, revision=proposals.ledger.head().revision, as_of=proposals.ledger.today(),
                                      next_position=next_before)

    @blueprint.get("/<code:proposal_id>")
    @needs("read")
    @blueprint.response(200, ProposalAnswer)
    def read_price_proposal(proposal_id: str) -> Any:
        """Read a proposal: its counts, its findings, and its effect on the menu."""
        return proposal_document(proposals, proposal_numbered(proposals.ledger, proposal_id))

    @blueprint.get("/<code:proposal_id>/rows")
    @needs("read")
    @blueprint.arguments(RowsQuery, location="query")
    @blueprint.response(200, ProposalRowPage, paged=True)
    def list_price_proposal_rows(query: Mapping[str, Any], proposal_id: str) -> Any:
        """List the rows of a proposal: what each says, what it would record, and what was found."""
        proposal = proposal_numbered(proposals.ledger, proposal_id)
        cursor = positions.cursors.place(query)
        if cursor is not None and cursor.revision != proposal.base_revision:
            raise WrongCursor("The proposal was looked at again since; begin again without a cursor.",
                              parameter="cursor", error_code="wrong-cursor")
        look = proposals.reviews.look(proposal)
        look = look if cursor is None else replace(look, today=cursor.as_of)
        asked = RowsAsked(query.get("finding"), query.get("standing"), query["sort"])
        data, next_after = proposal_rows(
            proposals, proposal, look, asked, cursor.position if cursor else 0, query["limit"])
        return positions.cursors.page(data, revision=look.revision, as_of=look.today, next_position=next_after)


def _decisions(blueprint: Blueprint, proposals: Proposals) -> None:
    @blueprint.post("/<code:proposal_id>/look")
    @needs("prices:write")
    @blueprint.arguments(NoRequest)
    @blueprint.idempotent
    @blueprint.refuses(404, 409)
    @blueprint.response(200, ProposalAnswer)
    def post_price_proposal_look(_body: Mapping[str, Any], proposal_id: str) -> Any:
        """Review a proposal again, against the ledger as it stands now."""
        number = proposal_numbered(proposals.ledger, proposal_id).id
        return _decided(proposals, look_again(proposals.ledger, number, asker()))

    @blueprint.post("/<code:proposal_id>/acceptance")
    @needs("prices:approve")
    @blueprint.arguments(AcceptanceRequest)
    @blueprint.idempotent
    @blueprint.refuses(404, 409)
    @blueprint.response(200, ProposalAnswer)
    def post_price_proposal_acceptance(body: Mapping[str, Any], proposal_id: str) -> Any:
        """Accept a proposal: its rows become prices in one revision, or none does.

        All clean rows, or those named; questioned rows with a reason each. What was reviewed against prices that have
        changed since is refused with 409: look again.
        """
        number = proposal_numbered(proposals.ledger, proposal_id).id
        chosen = Chosen(body.get("rows"), [(one["row"], one["reason"]) for one in body.get("overrides", ())],
                        body.get("looks"), body.get("reviewed_on"))
        return _decided(proposals, accept_prices(proposals.ledger, proposals.reviews, number, chosen, asker()))

    @blueprint.post("/<code:proposal_id>/rejection")
    @needs("prices:approve")
    @blueprint.arguments(ReasonRequest)
    @blueprint.idempotent
    @blueprint.refuses(404, 409)
    @blueprint.response(200, ProposalAnswer)
    def post_price_proposal_rejection(body: Mapping[str, Any], proposal_id: str) -> Any:
        """Reject a proposal with the reason; nothing is recorded, and it stays to be read."""
        number = proposal_numbered(proposals.ledger, proposal_id).id
        return _decided(proposals, reject_prices(proposals.ledger, number, body["reason"], asker()))


def _decided(proposals: Proposals, receipt: Receipt, status: int = 200) -> tuple[Any, int, dict[str, str]]:
    """The proposal as it stands after a decision. That is recorded by then: who cannot be shown it is told so, and not
    to send it again."""
    try:
        proposal = proposal_numbered(proposals.ledger, str(receipt.document["id"]))
        document = proposal_document(proposals, proposal)
    except LedgerUnavailable as unavailable:
        raise MayBeRecorded(f"It is recorded, and could not be read: {unavailable}") from unavailable
    return answered(Receipt(document, receipt.repeated), status)

