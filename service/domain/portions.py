"""Portions: what a whole piece of what was bought gives of a cut, in kg and in whole portions, and what one costs.

    weight a piece   = weight of the piece bought x the yields down the chain
    whole portions   = the weight a piece / portion weight, whole ones only; what is left is the tail
    cost, tail used  = cost per kg x portion weight: the tail goes into something else at what it cost
    cost, tail lost  = cost of all the cut a piece gives / whole portions: the portions carry the tail

What a piece weighs: the mean of the yield tests that count, of the breakdown that the piece goes into; with none, the
ingredient's own conversion (1 each = 8.4 kg); else it is not known, and neither are whole portions. A cut that is
broken down again is followed down its chain. Portion weights are raw.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from service.domain.as_purchased import makers
from service.domain.breakdown import Breakdown
from service.domain.cut_figures import CutFigures
from service.domain.errors import MissingConversion
from service.domain.kitchen import KitchenOnDay
from service.domain.publication import cost_in_words
from service.domain.quantity import convert
from service.domain.yields import NIL, weighed, yields_of

BY_TESTS, BY_CONVERSION = "yield_tests", "conversion"


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece as bought. `weight_kg` None: nobody has said what one weighs. `basis` says how it is known."""

    ingredient: str | None
    weight_kg: Fraction | None
    basis: str | None
    tests: int = 0


@dataclass(frozen=True, slots=True)
class PortionFigures:
    """What one piece gives of a cut, exactly. None is not known, or has no meaning (no portion weight given).

    Units: kg of the cut; costs in money per raw portion.
    """

    piece: Piece
    weight_kg: Fraction | None
    portions: int | None
    tail_kg: Fraction | None
    cost_tail_used: Fraction | None
    cost_tail_lost: Fraction | None

    def as_published(self) -> dict[str, Any]:
        """The figures as they go out: weights and costs to 4 decimals, portions whole."""
        return {
            "piece_weight_kg": cost_in_words(self.piece.weight_kg),
            "piece_weight_basis": self.piece.basis,
            "kg_per_piece": cost_in_words(self.weight_kg),
            "portions_per_piece": self.portions,
            "tail_kg": cost_in_words(self.tail_kg),
            "cost_per_portion": cost_in_words(self.cost_tail_used),
            "cost_per_portion_tail_lost": cost_in_words(self.cost_tail_lost),
        }


class Pieces:
    """The pieces that the breakdowns of one kitchen start from; each is weighed once."""

    def __init__(self, kitchen: KitchenOnDay) -> None:
        self._kitchen = kitchen
        self._made = makers(kitchen)
        self._pieces: dict[str, Piece] = {}

    def of(self, breakdown: Breakdown) -> Piece:
        """The piece that the chain above a breakdown starts with. A chain that breaks off starts with no piece."""
        if breakdown.code not in self._pieces:
            first = self._first(breakdown)
            self._pieces[breakdown.code] = Piece(None, None, None) if first is None else self._weighed(first)
        return self._pieces[breakdown.code]

    def _first(self, breakdown: Breakdown) -> Breakdown | None:
        """The breakdown at the start of the chain, which takes what is bought."""
        seen: set[str] = set()
        while breakdown.input.ingredient is None:
            seen.add(breakdown.code)
            maker = self._made.get(breakdown.input.cut or "")
            if maker is None or maker[0].code in seen:
                return None
            breakdown = maker[0]
        return breakdown

    def _weighed(self, first: Breakdown) -> Piece:
        ingredient = first.input.ingredient or ""
        tests = self._kitchen.yield_tests.get(first.code, ())
        counting = yields_of(first, tests, self._kitchen.day).counting
        if counting:
            paid_for = sum((weighed(test).paid_for for test in counting), NIL)
            return Piece(ingredient, paid_for / sum(test.pieces for test in counting), BY_TESTS, len(counting))
        weight = self._by_conversion(ingredient)
        return Piece(ingredient, weight, None if weight is None else BY_CONVERSION)

    def _by_conversion(self, code: str) -> Fraction | None:
        ingredient = self._kitchen.ingredients.get(code)
        if ingredient is None:
            return None
        try:
            return convert(Fraction(1), "each", "kg", ingredient.conversions)
        except MissingConversion:
            return None


def portion_figures(figures: CutFigures, pieces: Pieces) -> PortionFigures:
    """The portions of a cut whose figures are known; `pieces` are those of the same kitchen.

    Example: 0.84 kg of cap a piece in portions of 0.267 kg is 3 portions and a tail of 0.039 kg.
    """
    piece = pieces.of(figures.breakdown)
    weight = None
    if piece.weight_kg is not None and figures.chain.yield_of_ingredient is not None:
        weight = piece.weight_kg * figures.chain.yield_of_ingredient
    return portioned(piece, weight, figures.output.portion_weight_kg, figures.cost_per_kg)


def portioned(piece: Piece, weight_kg: Fraction | None, portion_weight_kg: Decimal | None, cost_per_kg: Fraction | None
              ) -> PortionFigures:
    """So much of a cut a piece, in portions. What is not known of weight, portion or cost has no figure."""
    if not portion_weight_kg:
        return PortionFigures(piece, weight_kg, None, None, None, None)
    portion = Fraction(portion_weight_kg)
    used = None if cost_per_kg is None else cost_per_kg * portion
    if weight_kg is None:
        return PortionFigures(piece, None, None, None, used, None)
    whole, tail = whole_portions(weight_kg, portion)
    lost = None if cost_per_kg is None or not whole else cost_per_kg * weight_kg / whole
    return PortionFigures(piece, weight_kg, whole, tail, used, lost)


def whole_portions(weight_kg: Fraction, portion_kg: Fraction) -> tuple[int, Fraction]:
    """How many whole portions there are, and the weight of the tail."""
    whole = weight_kg // portion_kg
    return whole, weight_kg - whole * portion_kg

