"""What a workbook is made from: a kitchen on a day, its costs, and which records the workbook shows.

With no dishes named it shows everything that stands that day; with some, those and all that they rest on, and every
output of the breakdowns among them, since cost is shared over all of them.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from service.domain.as_purchased import Measure, makers
from service.domain.breakdown import Breakdown
from service.domain.cascade import Costing
from service.domain.compile_lines import measures_of
from service.domain.cut_figures import CutSheet
from service.domain.dish import Dish
from service.domain.findings import Gap
from service.domain.ingredient import Ingredient
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Key
from service.domain.recipe import Recipe
from service.domain.uses import reached_from, uses_of

GAPS_TOLD = 6


@dataclass(frozen=True)
class WorkbookSource:
    """A kitchen on a day, its costing, and the dishes chosen (None: everything)."""

    kitchen: KitchenOnDay
    costing: Costing
    chosen: tuple[str, ...] | None = None

    @cached_property
    def sheet(self) -> CutSheet:
        return CutSheet(self.kitchen, self.costing)

    @cached_property
    def measures(self) -> Mapping[Key, Measure]:
        return measures_of(self.kitchen)

    @cached_property
    def makers(self) -> Mapping[str, Breakdown]:
        """The breakdown in use that makes each cut."""
        return {cut: breakdown for cut, (breakdown, _) in makers(self.kitchen).items()}

    @property
    def dishes(self) -> Iterator[Dish]:
        """In the order of a menu: by section, then by name."""
        shown = self.kitchen.dishes.values() if self.chosen is None else map(self.kitchen.dishes.__getitem__,
                                                                             dict.fromkeys(self.chosen))
        return iter(sorted(shown, key=lambda dish: (dish.section, dish.name, dish.code)))

    @property
    def recipes(self) -> Iterator[Recipe]:
        """What is used before its users."""
        return (self.kitchen.recipes[code] for code in self._shown("recipe"))

    @property
    def breakdowns(self) -> Iterator[Breakdown]:
        """What makes an input before what breaks it down."""
        return (self.kitchen.breakdowns[code] for code in self._shown("breakdown"))

    @property
    def ingredients(self) -> Iterator[Ingredient]:
        """In alphabetical order of their names."""
        shown = (self.kitchen.ingredients[code] for code in self._shown("ingredient"))
        return iter(sorted(shown, key=lambda ingredient: (ingredient.name, ingredient.code)))

    @cached_property
    def lines(self) -> int:
        """How many lines the workbook has: of dishes, recipes and breakdowns, and prices."""
        return (sum(1 + len(dish.lines) for dish in self.dishes) + sum(1 + len(recipe.lines) for recipe in self.recipes)
                + sum(1 + len(breakdown.outputs) for breakdown in self.breakdowns)
                + sum(1 for _ in self._shown("ingredient")))

    def stands_below(self, used: Key, user: Key) -> bool:
        """Whether a figure of the one can go into the other: it stands, and on no loop through it."""
        place = self.costing.network.index.get(used)
        return place is not None and place < self.costing.network.index[user]

    def name(self, key: Key) -> str:
        """A record's or cut's name; its code where it does not stand."""
        kind, code = key
        if kind == "cut":
            maker = self.makers.get(code)
            output = None if maker is None else maker.output(code)
            return code if output is None else output.name or code
        records: Mapping[str, Ingredient | Recipe] = (
            self.kitchen.ingredients if kind == "ingredient" else self.kitchen.recipes)
        return records[code].name or code if code in records else code

    def missing(self, key: Key) -> str:
        """What a figure lacks, in words; empty when it lacks nothing."""
        return in_words(self.costing.gaps(key))

    def _shown(self, kind: str) -> Iterator[str]:
        for node in self.costing.network.nodes:
            if node.kind == kind and (self._below is None or node.key in self._below):
                yield node.code

    @cached_property
    def _below(self) -> set[Key] | None:
        if self.chosen is None:
            return None
        return reached_from(uses_of(self.kitchen), [("dish", code) for code in self.chosen])


def in_words(gaps: Iterable[Gap]) -> str:
    """The details of gaps as one text, the first few of many."""
    told = [gap.detail for gap in gaps]
    more = f" And {len(told) - GAPS_TOLD} more." if len(told) > GAPS_TOLD else ""
    return " ".join(told[:GAPS_TOLD]) + more
