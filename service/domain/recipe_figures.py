"""What a recipe costs: all that it makes, a unit of it as it is made, and a base unit as others use it.

Material and labour apart; the total is known when both are. Each published figure is rounded once from the exact one,
so that a unit cost times the quantity made may differ in the last digit from the whole.
"""

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from service.domain.cascade import Costing
from service.domain.publication import cost_in_words, total
from service.domain.quantity import base_unit_of, unit_named
from service.domain.recipe import Recipe
from service.domain.rounding import text


@dataclass(frozen=True, slots=True)
class Costs:
    """Material and labour of one quantity. None is not known."""

    material: Fraction | None
    labour: Fraction | None
    known_material: Fraction

    @property
    def cost(self) -> Fraction | None:
        return total(self.material, self.labour)

    def times(self, factor: Fraction) -> "Costs":
        """The costs of `factor` times the quantity."""
        return Costs(
            None if self.material is None else self.material * factor,
            None if self.labour is None else self.labour * factor,
            self.known_material * factor)


@dataclass(frozen=True, slots=True)
class RecipeFigures:
    """The costs of all that a recipe makes, of one `makes_unit` of it, and of one kg, l or each."""

    recipe: Recipe
    currency: str
    whole: Costs
    per_unit: Costs
    per_base_unit: Costs

    @property
    def status(self) -> str:
        return "incomplete" if self.whole.cost is None else "complete"

    def as_published(self) -> dict[str, Any]:
        """The figures as they go out: costs to 4 decimals, None where there is no number."""
        return {
            "recipe": self.recipe.code,
            "name": self.recipe.name,
            "currency": self.currency,
            "status": self.status,
            "makes_quantity": text(self.recipe.makes_quantity),
            "makes_unit": self.recipe.makes_unit,
            "base_unit": base_unit_of(self.recipe.makes_unit),
            **_published(self.whole, ""),
            "known_material_cost": cost_in_words(self.whole.known_material),
            **_published(self.per_unit, "_per_unit"),
            **_published(self.per_base_unit, "_per_base_unit"),
        }


def recipe_figures(recipe: Recipe, currency: str, costing: Costing) -> RecipeFigures:
    """The costs of a recipe that stands in the costing's network.

    Example: 2 l of jus that cost 9.00 are 4.50 a litre; with makes_unit ml, 0.0045 a millilitre and 4.50 a litre.
    """
    figures = costing.figures(("recipe", recipe.code))
    per_base_unit = Costs(figures.material, figures.labour, figures.known_material)
    per_unit = per_base_unit.times(unit_named(recipe.makes_unit).factor)
    return RecipeFigures(recipe, currency, per_unit.times(Fraction(recipe.makes_quantity)), per_unit, per_base_unit)


def _published(costs: Costs, of: str) -> dict[str, Any]:
    return {
        f"material_cost{of}": cost_in_words(costs.material),
        f"labour_cost{of}": cost_in_words(costs.labour),
        f"cost{of}": cost_in_words(costs.cost),
    }
