"""What a recipe costs: the whole, a unit as it is made, a base unit as it is used; and line by line."""

from fractions import Fraction
from typing import Any

from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.compile_lines import measures_of
from service.domain.line_figures import line_figures
from service.domain.recipe_figures import recipe_figures
from tests.builders import a_kitchen, a_line, a_price, a_recipe, an_ingredient, some_settings

SHALLOTS = (an_ingredient("shallot"), a_price("2.70", ingredient="shallot"))


def published(*records: Any, **facts: Any) -> dict[str, Any]:
    kitchen = a_kitchen(*records, **facts)
    return recipe_figures(kitchen.recipes["jus"], "GBP", cascade(compile_network(kitchen))).as_published()


def test_two_litres_of_jus_cost_a_litre_and_a_millilitre() -> None:
    """500 g of shallots left of 90 % are 555.56 g bought, 1.50; 20 minutes at 24.00 an hour are 8.00."""
    jus = a_recipe("jus", a_line("ingredient shallot", "500", "g", yield_percent="90"), makes_quantity="2000",
                   makes_unit="ml", labour_minutes="20")
    assert published(*SHALLOTS, jus) == {
        "recipe": "jus", "name": "jus", "currency": "GBP", "status": "complete", "makes_quantity": "2000",
        "makes_unit": "ml", "base_unit": "l", "material_cost": "1.5000", "labour_cost": "8.0000", "cost": "9.5000",
        "known_material_cost": "1.5000", "material_cost_per_unit": "0.0008", "labour_cost_per_unit": "0.0040",
        "cost_per_unit": "0.0048", "material_cost_per_base_unit": "0.7500", "labour_cost_per_base_unit": "4.0000",
        "cost_per_base_unit": "4.7500"}


def test_without_a_labour_rate_material_is_known_and_the_total_is_not() -> None:
    jus = a_recipe("jus", a_line("ingredient shallot"), labour_minutes="20")
    figures = published(*SHALLOTS, jus, settings=some_settings(labour_rate_per_hour=None))
    assert (figures["material_cost"], figures["labour_cost"], figures["cost"], figures["status"]) == (
        "2.7000", None, None, "incomplete")


def test_what_is_known_of_a_recipe_is_told_beside_what_is_not() -> None:
    figures = published(*SHALLOTS, an_ingredient("wine"),
                        a_recipe("jus", a_line("ingredient shallot", "2"), a_line("ingredient wine")))
    assert (figures["material_cost"], figures["known_material_cost"]) == (None, "5.4000")


def test_each_line_shows_what_is_bought_and_what_is_left_of_it() -> None:
    kitchen = a_kitchen(*SHALLOTS, a_recipe(
        "jus", a_line("ingredient shallot", "500", "g", yield_percent="90"), a_line("recipe lost", "1", "l")))
    jus, costing = kitchen.recipes["jus"], cascade(compile_network(kitchen))
    shallots, lost = line_figures(jus.lines, measures_of(kitchen), costing)
    assert shallots.as_published() == {
        "ingredient": "shallot", "unit": "g", "as_purchased_quantity": "555.5556",
        "edible_portion_quantity": "500.0000", "material_cost": "1.5000", "labour_cost": "0.0000", "cost": "1.5000"}
    assert (lost.as_purchased, lost.cost) == (1, None)


def test_the_lines_add_up_to_the_whole() -> None:
    kitchen = a_kitchen(*SHALLOTS, a_recipe("base", a_line("ingredient shallot", "3"), labour_minutes="6"), a_recipe(
        "jus", a_line("ingredient shallot", "500", "g", yield_percent="90"), a_line("recipe base", "250", "ml"),
        makes_quantity="3"))
    jus, costing = kitchen.recipes["jus"], cascade(compile_network(kitchen))
    lines = line_figures(jus.lines, measures_of(kitchen), costing)
    whole = recipe_figures(jus, "GBP", costing).whole
    assert sum((line.cost or Fraction(0)) for line in lines) == whole.cost
