"""The three lists of costs: what each is called, who may read it, and where its rows and columns come from."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from service.rest.cost_columns import CUT_COLUMNS, DISH_COLUMNS, RECIPE_COLUMNS
from service.rest.csv_answers import Column
from service.rest.fields.exact_field import shown
from service.rest.schemas.cost_queries import CutCostQuery, DishCostQuery, RecipeCostQuery
from service.rest.schemas.costs import (
    CutCostAnswer,
    CutCostPage,
    DishCostAnswer,
    DishCostPage,
    RecipeCostAnswer,
    RecipeCostPage,
)
from service.use_cases.cost_rows import cut_row, cut_rows, dish_row, dish_rows, recipe_row, recipe_rows
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class CostList:
    """One of the three lists: its name on the wire, what a row's code is called, and where its rows come from."""

    name: str
    code: str
    scope: str
    rows: Callable[[Snapshot, bool], Sequence[Document]]
    row: Callable[[Snapshot, str, bool], Document]
    columns: Sequence[Column]
    query: type[Any]
    answer: type[Any]
    page: type[Any]

    def column(self, name: str) -> Column | None:
        """The column of that name, or None."""
        return next((column for column in self.columns if column.name == name), None)

    def columns_named(self, names: Sequence[str] | None) -> Sequence[Column]:
        """The columns of those names, in that order; None: all of them."""
        return self.columns if names is None else [column for name in names if (column := self.column(name))]

    def no_such_column(self, name: str) -> str:
        """What is said of a name that no column has."""
        return (f"There is no column {shown(name)} in {self.name}; the columns are "
                f"{', '.join(column.name for column in self.columns)}.")


COST_LISTS = (
    CostList("dish-costs", "dish", "costs:read", dish_rows, dish_row, DISH_COLUMNS, DishCostQuery, DishCostAnswer,
             DishCostPage),
    CostList("cut-costs", "cut", "read", lambda snapshot, _: cut_rows(snapshot),
             lambda snapshot, code, _: cut_row(snapshot, code), CUT_COLUMNS, CutCostQuery, CutCostAnswer, CutCostPage),
    CostList("recipe-costs", "recipe", "read", lambda snapshot, _: recipe_rows(snapshot),
             lambda snapshot, code, _: recipe_row(snapshot, code), RECIPE_COLUMNS, RecipeCostQuery, RecipeCostAnswer,
             RecipeCostPage),
)
