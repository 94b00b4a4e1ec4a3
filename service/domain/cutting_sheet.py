"""The cutting sheet: what a piece gives when it is broken down, what each part costs, and what it is good for.

One breakdown on one day: the piece and its weight, its outputs in the plan's order with yield, kg and whole portions a
piece, cost per kg and per portion, how sure the yield is; what is unaccounted for and what drained off; the steps at
the block, with the cautions beside them. A cut that is broken down again is a piece of its own kind: what it weighs is
followed down the chain from what was bought. Costs are those of the breakdown in use; a plan that is not in use has
weights and no costs.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from service.domain.as_purchased import makers
from service.domain.breakdown import Breakdown, Output, Role
from service.domain.cascade import Costing
from service.domain.cautions import CAUTIONS
from service.domain.cut_figures import Chain, CutFigures, CutSheet
from service.domain.exact_sums import times
from service.domain.kitchen import KitchenOnDay
from service.domain.network import ONE
from service.domain.portions import Piece, Pieces, PortionFigures, portioned
from service.domain.publication import cost_in_words, share_in_words
from service.domain.yield_statistics import Draining, YieldStatistics, draining, statistics_of
from service.domain.yields import Yields


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One output. `figures` None: it is a loss, or the plan is not in use. `statistics` None: no test counts."""

    output: Output
    yield_fraction: Fraction
    weight_kg: Fraction | None
    figures: CutFigures | None
    portions: PortionFigures
    statistics: YieldStatistics | None

    def as_published(self) -> dict[str, Any]:
        output, figures = self.output, self.figures
        material, labour, cost = (None, None, None) if figures is None else (
            figures.material_cost_per_kg, figures.labour_cost_per_kg, figures.cost_per_kg)
        return {
            "cut": output.cut, "name": output.name, "role": output.role.value, "uses": list(output.uses),
            "yield": share_in_words(self.yield_fraction), "kg_per_piece": cost_in_words(self.weight_kg),
            "material_cost_per_kg": cost_in_words(material), "labour_cost_per_kg": cost_in_words(labour),
            "cost_per_kg": cost_in_words(cost), "cost_per_piece": cost_in_words(times(cost, self.weight_kg)),
            "market_value": _words(output.market_value), "credit_value": _words(output.credit_value),
            "disposal_cost": _words(output.disposal_cost) if output.role is Role.LOSS else None,
            "portion_weight_kg": _words(output.portion_weight_kg),
            **_portions(self.portions), **_sureness(self.statistics),
        }


@dataclass(frozen=True, slots=True)
class CuttingSheet:
    """The sheet of one breakdown.

    Units: `input_kg_per_piece` is what the breakdown's own input weighs, a piece of what was bought: the piece itself,
           or the cut that comes of it; None when no piece weight is known, and the sheet is then per kg of input.
    """

    breakdown: Breakdown
    currency: str
    piece: Piece
    input_kg_per_piece: Fraction | None
    yields: Yields
    draining: Draining | None
    lines: tuple[SheetLine, ...]

    def as_published(self) -> dict[str, Any]:
        """The sheet as it goes out: weights, yields and costs to 4 decimals."""
        source, drained = self.breakdown.input, self.draining
        return {
            "breakdown": self.breakdown.code, "name": self.breakdown.name, "in_use": self.breakdown.in_use,
            "input": {"ingredient": source.ingredient} if source.ingredient is not None else {"cut": source.cut},
            "ingredient": self.piece.ingredient, "currency": self.currency, "method": self.breakdown.method.value,
            "piece_weight_kg": cost_in_words(self.piece.weight_kg), "piece_weight_basis": self.piece.basis,
            "input_kg_per_piece": cost_in_words(self.input_kg_per_piece),
            "yield_basis": self.yields.basis, "tests": len(self.yields.counting),
            "unaccounted": share_in_words(self.yields.unaccounted),
            "unaccounted_kg_per_piece": cost_in_words(times(self.yields.unaccounted, self.input_kg_per_piece)),
            "purge": None if drained is None else share_in_words(drained.purge),
            "cutting_loss": None if drained is None else share_in_words(drained.cutting_loss),
            "outputs": [line.as_published() for line in self.lines],
            "steps": list(self.breakdown.steps),
            "cautions": [{"code": caution.code, "text": caution.text, "source": caution.source}
                         for caution in CAUTIONS],
        }


def cutting_sheet(code: str, kitchen: KitchenOnDay, costing: Costing) -> CuttingSheet:
    """The sheet of a breakdown that stands on the kitchen's day, in use or not.

    Raises:  KeyError for a breakdown that does not stand.
    """
    breakdown = kitchen.breakdowns[code]
    cuts = CutSheet(kitchen, costing)
    made_here = {cut for cut, (maker, _) in makers(kitchen).items() if maker is breakdown}
    yields, piece = cuts.yields(breakdown), Pieces(kitchen).of(breakdown)
    weight = times(_yield_of_input(breakdown, cuts), piece.weight_kg)
    lines = tuple(
        _line(output, piece, weight, yields, cuts.figures(output.cut) if output.cut in made_here else None)
        for output in breakdown.outputs)
    return CuttingSheet(breakdown, kitchen.settings.currency, piece, weight, yields, draining(yields.counting), lines)


def _line(output: Output, piece: Piece, input_kg: Fraction | None, yields: Yields, figures: CutFigures | None
          ) -> SheetLine:
    fraction = yields.fractions[output.cut]
    weight = times(fraction, input_kg)
    cost = None if figures is None else figures.cost_per_kg
    return SheetLine(output, fraction, weight, figures, portioned(piece, weight, output.portion_weight_kg, cost),
                     statistics_of(output.cut, yields.counting))


def _yield_of_input(breakdown: Breakdown, cuts: CutSheet) -> Fraction | None:
    """What part of what was bought the breakdown's input is: all of it, or the yields down to the cut."""
    if breakdown.input.ingredient is not None:
        return ONE
    cut = breakdown.input.cut or ""
    chain = cuts.figures(cut).chain if cut in cuts.cuts else Chain(None, None, None)
    return chain.yield_of_ingredient


def _portions(portions: PortionFigures) -> dict[str, Any]:
    """What of the portions is not said for the whole sheet."""
    names = ("portions_per_piece", "tail_kg", "cost_per_portion", "cost_per_portion_tail_lost")
    published = portions.as_published()
    return {name: published[name] for name in names}


def _sureness(statistics: YieldStatistics | None) -> dict[str, Any]:
    error = None if statistics is None else statistics.standard_error
    interval: Sequence[Fraction] | None = None if statistics is None else statistics.interval
    return {
        "tests": 0 if statistics is None else statistics.tests,
        "standard_error": share_in_words(error),
        "interval_95": None if interval is None else [share_in_words(bound) for bound in interval],
    }



def _words(value: Any) -> str | None:
    return None if value is None else cost_in_words(Fraction(value))
