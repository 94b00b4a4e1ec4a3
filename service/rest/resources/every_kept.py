"""Every kind of kept record over HTTP: its schemas, and the scope that keeps and retires it."""

from collections.abc import Iterator

from service.domain.breakdown import Breakdown
from service.domain.dish import Dish
from service.domain.ingredient import Ingredient
from service.domain.recipe import Recipe
from service.domain.supplier import Supplier
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.resources.kept_records import Wire, kept_records
from service.rest.schemas.breakdowns import BreakdownAnswer, BreakdownPage, BreakdownRequest
from service.rest.schemas.dishes import DishAnswer, DishPage, DishRequest
from service.rest.schemas.ingredients import (
    IngredientAnswer,
    IngredientPage,
    IngredientRequest,
    SupplierAnswer,
    SupplierPage,
    SupplierRequest,
)
from service.rest.schemas.recipes import RecipeAnswer, RecipePage, RecipeRequest
from service.use_cases.kept_kinds import breakdown_kind, dish_kind, ingredient_kind, recipe_kind, supplier_kind

KEPT = (
    (supplier_kind, Wire(SupplierRequest, SupplierAnswer, SupplierPage, "prices:write", Supplier,
                         "Whom prices are agreed with.")),
    (ingredient_kind, Wire(IngredientRequest, IngredientAnswer, IngredientPage, "kitchen:write", Ingredient,
                           "Anything bought; a primal is one that is broken down.")),
    (breakdown_kind, Wire(BreakdownRequest, BreakdownAnswer, BreakdownPage, "kitchen:write", Breakdown,
                          "How one input becomes several outputs, and how its cost is shared.")),
    (recipe_kind, Wire(RecipeRequest, RecipeAnswer, RecipePage, "kitchen:write", Recipe,
                       "Preparations that make a quantity of something.")),
    (dish_kind, Wire(DishRequest, DishAnswer, DishPage, "menu:write", Dish, "What the menu sells.")),
)


def every_kept(positions: Positions) -> Iterator[Blueprint]:
    """The resources of suppliers, ingredients, breakdowns, recipes and dishes, in this order."""
    return (kept_records(kind, wire, positions) for kind, wire in KEPT)
