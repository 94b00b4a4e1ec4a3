"""What each line of a recipe or dish takes and costs: the quantity that goes into the pot (AP), what is left of it
after preparation and cooking (EP), and its material and labour.

Line costs are for the whole record, as its lines are: all that a recipe makes, all portions of a dish, before a dish's
allowance.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from service.domain.as_purchased import Measure, as_purchased
from service.domain.cascade import Costing
from service.domain.compile_lines import unit_factor
from service.domain.findings import Gap
from service.domain.network import Key
from service.domain.publication import cost_in_words, total
from service.domain.recipe import Line


@dataclass(frozen=True, slots=True)
class LineFigures:
    """One line, exactly. None is not known.

    Units: both quantities in the line's own unit; `per` is the unit that the costs of what it uses are per.
    """

    line: Line
    edible_portion: Fraction
    as_purchased: Fraction
    per: str | None
    material_cost: Fraction | None
    labour_cost: Fraction | None

    @property
    def cost(self) -> Fraction | None:
        return total(self.material_cost, self.labour_cost)

    def as_published(self) -> dict[str, Any]:
        kind, code = self.line.uses
        return {
            kind: code,
            "unit": self.line.unit,
            "as_purchased_quantity": cost_in_words(self.as_purchased),
            "edible_portion_quantity": cost_in_words(self.edible_portion),
            "material_cost": cost_in_words(self.material_cost),
            "labour_cost": cost_in_words(self.labour_cost),
            "cost": cost_in_words(self.cost),
        }


def line_figures(lines: Sequence[Line], measures: Mapping[Key, Measure], costing: Costing) -> tuple[LineFigures, ...]:
    """Every line in its order. `measures` are those of the kitchen that the costing is of (`measures_of`)."""
    return tuple(_line(line, measures.get(line.uses), costing) for line in lines)


def _line(line: Line, measure: Measure | None, costing: Costing) -> LineFigures:
    quantity = as_purchased(line)
    factor = unit_factor(line.uses, line.unit, measure)
    if isinstance(factor, Gap) or measure is None:
        return LineFigures(line, Fraction(line.quantity), quantity, None, None, None)
    figures = costing.figures(line.uses)
    return LineFigures(
        line, Fraction(line.quantity), quantity, measure.unit,
        None if figures.material is None else quantity * factor * figures.material,
        None if figures.labour is None else quantity * factor * figures.labour)
