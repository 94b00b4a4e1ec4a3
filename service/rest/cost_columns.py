"""The columns of the cost lists as CSV. Columns are only ever appended."""

from service.rest.csv_answers import Column
from service.rest.fields.choices import Flag
from service.rest.fields.numbers import Figure, Whole
from service.rest.openapi_layer.schemas import Answer
from service.rest.schemas.costs import CutCostAnswer, DishCostAnswer, RecipeCostAnswer

_FREE_TEXT = frozenset(("name", "section", "pos_code"))
_STANDING = ("as_of", "revision", "currency", "status")


def _columns(answer: type[Answer], *names: str) -> tuple[Column, ...]:
    figures = {field.data_key or name for name, field in answer().fields.items()
               if isinstance(field, Figure | Flag | Whole)}
    return tuple(Column(name, free_text=name in _FREE_TEXT, figure=name in figures) for name in (*names, *_STANDING))


DISH_COLUMNS = _columns(
    DishCostAnswer,
    "dish", "name", "section", "pos_code", "food_cost", "known_food_cost", "labour_cost", "menu_price",
    "tax_rate_percent", "price_before_tax", "food_cost_percent", "gross_profit", "gross_profit_percent",
    "target_food_cost_percent", "target_menu_price", "within_target", "allergens")
CUT_COLUMNS = _columns(
    CutCostAnswer,
    "cut", "name", "role", "breakdown", "ingredient", "method", "yield", "yield_basis", "yield_of_ingredient",
    "material_cost_per_kg", "labour_cost_per_kg", "cost_per_kg", "cost_factor", "share_of_joint_cost", "market_value",
    "portion_weight_kg", "piece_weight_kg", "piece_weight_basis", "kg_per_piece", "portions_per_piece", "tail_kg",
    "cost_per_portion", "cost_per_portion_tail_lost", "allergens")
RECIPE_COLUMNS = _columns(
    RecipeCostAnswer,
    "recipe", "name", "makes_quantity", "makes_unit", "material_cost", "labour_cost", "cost", "known_material_cost",
    "material_cost_per_unit", "labour_cost_per_unit", "cost_per_unit", "base_unit", "material_cost_per_base_unit",
    "labour_cost_per_base_unit", "cost_per_base_unit", "allergens")
