"""Read the rows of a price proposal: what the file says, what each would record, and what was found."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from service.domain.price_list import PriceRow
from service.domain.price_proposal import PriceProposal, ProposalState
from service.domain.publication import cost_in_words, percent_in_words
from service.domain.review_ground import Ground
from service.domain.reviewed_row import ReviewedRow, changed_by, per_base_unit
from service.domain.row_price import in_words
from service.use_cases.closest_names import ClosestNames
from service.use_cases.documents import Document, plain
from service.use_cases.price_effect import RowEffect, effect_of_rows
from service.use_cases.read_proposals import Proposals, position_of
from service.use_cases.reviews import Look, Reviewed

WEIGHT_OF_A_ROW = 10
"""How many numbers of rows in their order weigh as much in memory as a row."""


@dataclass(frozen=True, slots=True)
class RowsAsked:
    """Which rows, in which order: `sort` is "place", "effect" or "change"; the largest first but for the place."""

    finding: str | None = None
    standing: str | None = None
    sort: str = "place"


@dataclass(frozen=True, slots=True)
class Known:
    """What an unknown item may be meant for: the names, and what each is (kind and code)."""

    names: ClosestNames
    are: Sequence[tuple[str, str]]


def proposal_rows(proposals: Proposals, proposal: PriceProposal, look: Look, asked: RowsAsked, after: int, limit: int
                  ) -> tuple[list[Document], int | None]:
    """At most `limit` rows that the filters name, from the `after`-th on; and where the next page starts.

    Shape:   `look` is as `Reviews.look` gives it, of the day of the first page: so that midnight shifts no row.
    """
    reviewed = proposals.reviews.at(proposal, look)
    ordered = proposals.reviews.kept(("order", look, asked), proposal.rows // WEIGHT_OF_A_ROW, lambda: _ordered(
        proposals, reviewed, asked, look))
    page = [reviewed.review.rows[number] for number in ordered[after:after + limit]]
    effects = _effects(proposals, reviewed, look, page)
    known = _known(proposals, reviewed, look) if any(one.item is None for one in page) else None
    data = [row_document(one, effect, reviewed.ground, proposal, known)
            for one, effect in zip(page, effects, strict=True)]
    return data, after + limit if after + limit < len(ordered) else None


def row_document(one: ReviewedRow, effect: RowEffect | None, ground: Ground, proposal: PriceProposal,
                 known: Known | None) -> Document:
    """A row as shown: what the file says, what it would record, and what was found."""
    row, price, compared, ingredient = one.row, one.price, one.in_force, one.ingredient
    changed = changed_by(one, ground)
    pack = row.pack or (one.item.pack if one.item is not None else None)
    return {
        "row": row.number, "place": row.place, "item": row.item, "gtin": row.gtin, "name": row.name,
        "ingredient": ingredient and ingredient.code, "ingredient_name": ingredient and ingredient.name,
        "amount": row.amount if row.amount is None else plain(row.amount), "amount_text": row.amount_text,
        "per": _per(row), "pack": pack and in_words(pack),
        "effective_from": price and price.starts, "effective_to": price and price.ends,
        "base_unit": ingredient and ingredient.base_unit, "unit_price": cost_in_words(per_base_unit(one, ground)),
        "price_in_force": cost_in_words(changed[1]) if changed else None,
        "price_in_force_id": compared and compared.id, "price_in_force_supplier": compared and compared.supplier,
        "change": cost_in_words(changed[0] - changed[1]) if changed else None,
        "change_percent": _percent(changed), "menu_effect": cost_in_words(effect.food_cost) if effect else None,
        "dishes": effect.dishes if effect else None, "standing": one.standing.value,
        "findings": [_finding(one, finding.code, finding.detail, known) for finding in one.findings],
    } | _decision(proposal, row.number)


def _finding(one: ReviewedRow, code: str, detail: str, known: Known | None) -> Document:
    found: Document = {"code": code, "detail": detail}
    return found | {"closest": _closest(one.row, known)} if code == "unknown_item" and known is not None else found


def _closest(row: PriceRow, known: Known) -> list[Document]:
    """The supplier's items, and the ingredients, whose names are most like the row's."""
    return [{"kind": known.are[number][0], "code": known.are[number][1]}
            for number in known.names.to(row.name or row.item)]


def _known(proposals: Proposals, reviewed: Reviewed, look: Look) -> Known:
    def make() -> Known:
        names = reviewed.ground.names()
        return Known(ClosestNames(list(names)), list(names.values()))

    return proposals.reviews.kept(("names", look), 0, make)


def _per(row: PriceRow) -> str | None:
    unit = row.per_unit or row.per_unit_text or None
    return unit if unit is None or row.per_quantity == 1 else f"{plain(row.per_quantity)} {unit}"


def _percent(changed: tuple[Fraction, Fraction] | None) -> str | None:
    return None if changed is None or changed[1] == 0 else percent_in_words((changed[0] / changed[1] - 1) * 100)


def _decision(proposal: PriceProposal, number: int) -> Document:
    end = proposal.end
    if end is None or proposal.state is not ProposalState.ACCEPTED:
        return {"decision": None, "price": None, "override": ""}
    price = end.prices.get(number)
    return {"decision": "left" if price is None else "accepted", "price": price,
            "override": end.overrides.get(number, "")}


def _ordered(proposals: Proposals, reviewed: Reviewed, asked: RowsAsked, look: Look) -> list[int]:
    """The rows (by index) that the filters name, in the order asked for."""
    reviewed_rows = reviewed.review.rows
    rows = [number for number, one in enumerate(reviewed_rows)
            if (asked.standing is None or one.standing == asked.standing)
            and (asked.finding is None or any(finding.code == asked.finding for finding in one.findings))]
    if asked.sort == "place":
        return rows
    named = [reviewed_rows[number] for number in rows]
    if asked.sort == "effect":
        effects = _effects(proposals, reviewed, look, named)
        sizes = [abs(effect.food_cost) if effect is not None else Fraction(-1) for effect in effects]
    else:
        sizes = [_size_of_change(one, reviewed.ground) for one in named]
    return [number for _, number in sorted(zip(sizes, rows, strict=True), key=lambda pair: (-pair[0], pair[1]))]


def _effects(proposals: Proposals, reviewed: Reviewed, look: Look, rows: Sequence[ReviewedRow]
             ) -> list[RowEffect | None]:
    snapshot = proposals.snapshots.at(position_of(proposals, reviewed, look))
    return effect_of_rows(snapshot, reviewed.ground, rows)


def _size_of_change(one: ReviewedRow, ground: Ground) -> Fraction:
    """The change as a part of the price in force; what has none comes last, what was free first."""
    changed = changed_by(one, ground)
    if changed is None:
        return Fraction(-1)
    return abs(changed[0] - changed[1]) / changed[1] if changed[1] else Fraction(10**12)
