"""The published figures as they stand in a workbook's cells, by the headers that people read, and as they should be.

A spreadsheet counts in binary floating point, so that a figure whose exact value lies on a rounding tie, or within
NEAR of one, may be rounded to either side; so may a target price whose steps are as near to a whole number. Such
figures are told apart, never left out. NEAR is 1e-9, or a part in 1e11 of a figure of more than hundreds, since a
spreadsheet has some 15 digits, and some of them go on the way. A figure so large that this is half a unit of its last
place (a portion of millions) has more digits than a spreadsheet, and is held to a part in 1e11.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import floor
from typing import Any

from service.domain.cascade import Costing
from service.domain.cut_figures import CutSheet
from service.domain.kitchen import KitchenOnDay
from service.domain.menu import dish_figures, terms_of
from service.domain.recipe_figures import recipe_figures
from tests.integrations.workbook.live_program import Cells

HEADERS_AT, FIRST_AT = 3, 4
NEAR, NEAR_PART = Fraction(1, 10**9), Fraction(1, 10**11)
MOST_STEPS = 50_000
NOT_KNOWN = ({"error": "#N/A"}, "")

DISHES = {"food_cost": "Food cost, {}", "food_cost_percent": "Food cost %", "target_food_cost_percent": "Target %",
          "gross_profit": "Gross profit, {}", "gross_profit_percent": "Gross profit %",
          "labour_cost": "Labour cost, {}", "price_before_tax": "Price before tax",
          "target_menu_price": "Target menu price", "known_food_cost": "Food cost at least"}
CUTS = {"yield": "Yield", "material_cost_per_kg": "Material, {} per kg", "labour_cost_per_kg": "Labour, {} per kg",
        "cost_per_kg": "Cost, {} per kg", "cost_per_portion": "Cost per portion", "cost_factor": "Cost factor",
        "share_of_joint_cost": "Share of joint cost", "yield_of_ingredient": "Yield of what was bought"}
RECIPES = {f"{kind}cost{suffix}": f"{words}ost{' ' + suffix.replace('_', ' ').strip() if suffix else ''}, {{}}"
           for suffix in ("", "_per_unit", "_per_base_unit")
           for kind, words in (("material_", "Material c"), ("labour_", "Labour c"), ("", "C"))} | {
    "known_material_cost": "Material at least"}


@dataclass(frozen=True)
class Figure:
    """One published figure: what the cell says, what it should say, and the exact value of it."""

    where: str
    cell: Any
    told: str | None
    exact: Fraction | None
    places: int
    steps: Fraction | None = None
    step: Fraction = Fraction(0)

    @property
    def slack(self) -> Fraction:
        """How near to a tie a spreadsheet may miss it."""
        return max(NEAR, abs(self.exact or 0) * NEAR_PART)

    @property
    def near_a_tie(self) -> bool:
        """Whether the exact value lies so near to a tie that a spreadsheet may round it to either side."""
        if self.exact is None:
            return False
        if self.steps is not None:
            return self.is_beyond or self._near_a_whole_step(self.steps)
        units = abs(self.exact) * 10**self.places
        return self.is_beyond or abs(units - floor(units) - Fraction(1, 2)) / 10**self.places <= self.slack

    @staticmethod
    def _near_a_whole_step(steps: Fraction) -> bool:
        """A whole number of steps is none too few: the workbook settles that on the ninth decimal, while it has one."""
        off = abs(steps - round(steps))
        return off <= max(NEAR, steps * NEAR_PART) and (off > 0 or steps > MOST_STEPS)

    @property
    def is_beyond(self) -> bool:
        """Whether it has more digits than a spreadsheet can be held to."""
        return abs(self.exact or 0) * NEAR_PART * 2 * 10**self.places >= 1

    @property
    def agrees(self) -> bool:
        """Whether the cell says the same digits; not available, or nothing, for what is not known."""
        if self.told is None:
            return self.cell in NOT_KNOWN
        if not isinstance(self.cell, int | float):
            return False
        off = abs(Decimal(repr(float(self.cell))) - Decimal(self.told))
        return float(self.cell) == float(self.told) or off < Decimal(1).scaleb(-self.places - 3)

    @property
    def is_next_to(self) -> bool:
        """Whether the cell says one of the two digits that a tie lies between, and no more."""
        if self.exact is None or not isinstance(self.cell, int | float):
            return False
        off = abs(Fraction(self.cell) - self.exact)
        most = max(Fraction(1, 2 * 10**self.places), self.step) + 2 * self.slack
        return off <= most and self._is_rounded(Fraction(self.cell))

    def _is_rounded(self, cell: Fraction) -> bool:
        units = cell * 10**self.places
        return abs(units - round(units)) <= 1 / Fraction(1000) + abs(units) * NEAR_PART


def rows_of(cells: Cells, sheet: str) -> Mapping[str, Mapping[str, Any]]:
    """The rows of a sheet by their code, each by its headers; of headers alike the first, which is the published."""
    headers = cells[sheet][HEADERS_AT]
    places = {header: headers.index(header) for header in headers}
    return {row[places["Code"]]: {header: row[place] for header, place in places.items()}
            for row in cells[sheet][FIRST_AT:] if row[places["Code"]]}


def all_figures(cells: Cells, kitchen: KitchenOnDay, costing: Costing, told: Mapping[str, Mapping[str, Any]]
                ) -> Iterator[Figure]:
    """Every published figure of every dish, cut and recipe. `told` says what each should publish, by its code."""
    currency = kitchen.settings.currency
    dishes, cuts, recipes = (rows_of(cells, sheet) for sheet in ("Dishes", "Cuts", "Recipes"))
    for code, exact in _exact(kitchen, costing):
        sheet = {"dish": dishes, "cut": cuts, "recipe": recipes}[code.partition(" ")[0]]
        row = sheet[code.partition(" ")[2]]
        headers = {"dish": DISHES, "cut": CUTS, "recipe": RECIPES}[code.partition(" ")[0]]
        for name, header in headers.items():
            value, places, *steps = exact[name]
            yield Figure(f"{name} of {code}", row[header.format(currency)], told[code][name], value, places, *steps)


def _exact(kitchen: KitchenOnDay, costing: Costing) -> Iterator[tuple[str, dict[str, Any]]]:
    """What the figures are before they are rounded, and to how many decimals they are; of a target price in which
    steps, and how many of them before it is rounded up."""
    for code, dish in kitchen.dishes.items():
        costs, terms = costing.figures(("dish", code)), terms_of(dish, kitchen.settings)
        figures = dish_figures(dish, kitchen.settings, costs.material, costs.labour, costs.known_material)
        percents = {name: (getattr(figures, name), 2) for name in ("food_cost_percent", "gross_profit_percent")}
        money = {name: (getattr(figures, name), 4)
                 for name in ("food_cost", "labour_cost", "price_before_tax", "gross_profit", "known_food_cost")}
        known = figures.food_cost is not None and terms.target > 0
        steps = (figures.food_cost or 0) / terms.target * (1 + terms.tax) / terms.step if known else None
        yield f"dish {code}", {**percents, **money, "target_food_cost_percent": (terms.target * 100, 2),
                               "target_menu_price": (figures.target_menu_price, terms.places, steps, terms.step)}
    sheet = CutSheet(kitchen, costing)
    for code in sheet.cuts:
        cut = sheet.figures(code)
        exact = {"yield": cut.yield_fraction, "yield_of_ingredient": cut.chain.yield_of_ingredient} | {
            name: getattr(cut, name) for name in CUTS if name not in ("yield", "yield_of_ingredient")}
        yield f"cut {code}", {name: (value, 4) for name, value in exact.items()}
    for code, recipe in kitchen.recipes.items():
        made = recipe_figures(recipe, kitchen.settings.currency, costing)
        exact = {"known_material_cost": made.whole.known_material}
        for suffix, costs in (("", made.whole), ("_per_unit", made.per_unit), ("_per_base_unit", made.per_base_unit)):
            exact |= {f"material_cost{suffix}": costs.material, f"labour_cost{suffix}": costs.labour,
                      f"cost{suffix}": costs.cost}
        yield f"recipe {code}", {name: (value, 4) for name, value in exact.items()}


def address_of(cells: Cells, sheet: str, code: str, header: str) -> str:
    """The cell of a row, by its code, under a header: `E7`."""
    headers = cells[sheet][HEADERS_AT]
    row = next(row for row, values in enumerate(cells[sheet]) if row >= FIRST_AT
               and values[headers.index("Code")] == code)
    return f"{chr(ord('A') + headers.index(header))}{row + 1}"
