"""The kitchen: all that is recorded, as known at a revision; and the kitchen as it stands on one day.

Every figure is a pure function of a `Kitchen` and a day.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from service.domain.breakdown import Breakdown
from service.domain.dish import Dish
from service.domain.history import Histories, History, Mark, Version, record_on, with_undated_facts
from service.domain.ingredient import Ingredient
from service.domain.kitchen_settings import KitchenSettings
from service.domain.price import Price
from service.domain.recipe import Recipe
from service.domain.standing import retired_suppliers, standing, standing_like, without
from service.domain.supplier import Supplier
from service.domain.supplier_item import SupplierItem
from service.domain.very_same import others
from service.domain.yield_test import YieldTest


@dataclass(frozen=True, slots=True)
class Kitchen:
    """All that is recorded, as known at `revision`. Immutable: a later revision is another kitchen.

    Shape:   records by code; prices by ingredient (withdrawn ones too, marked); tests by breakdown (set-aside ones
             too); each tuple in the order recorded. Suppliers' items are by `item_key`; they move no figure, and so are
             not in a `KitchenOnDay`.
    """

    revision: int
    settings: History[KitchenSettings]
    suppliers: Histories[Supplier]
    ingredients: Histories[Ingredient]
    prices: Mapping[str, tuple[Price, ...]]
    breakdowns: Histories[Breakdown]
    yield_tests: Mapping[str, tuple[YieldTest, ...]]
    recipes: Histories[Recipe]
    dishes: Histories[Dish]
    supplier_items: Histories[SupplierItem]

    def on(self, day: date, like: "tuple[Kitchen, KitchenOnDay] | None" = None) -> "KitchenOnDay":
        """The kitchen as it stands on `day`; what stands like that in `like`, another kitchen and how that stood on the
        same day, is taken over: the very same records, and where nothing of a kind differs the very same mapping."""
        if like is not None and like[1].day != day:
            like = None
        return KitchenOnDay(
            day=day,
            settings=self.settings_on(day),
            suppliers=self._standing("suppliers", day, like),
            ingredients=self._standing("ingredients", day, like),
            prices=self._prices(day, like),
            breakdowns=self._standing("breakdowns", day, like),
            yield_tests=self.yield_tests,
            recipes=self._standing("recipes", day, like),
            dishes=self._standing("dishes", day, like),
        )

    def _standing(self, kind: str, day: date, like: "tuple[Kitchen, KitchenOnDay] | None") -> Mapping[str, Any]:
        histories: Histories[Any] = getattr(self, kind)
        return standing(histories, day) if like is None else standing_like(
            histories, day, getattr(like[0], kind), getattr(like[1], kind))

    def _prices(self, day: date, like: "tuple[Kitchen, KitchenOnDay] | None") -> Mapping[str, tuple[Price, ...]]:
        retired = retired_suppliers(self.suppliers, day)
        if not retired or like is None or retired_suppliers(like[0].suppliers, day) != retired:
            return without(self.prices, retired)
        recorded, offered = like[0].prices, like[1].prices
        moved = {code: self.prices[code] for code in others(recorded, self.prices)}
        return {**{code: offered[code] for code in self.prices if code not in moved}, **without(moved, retired)}

    def settings_on(self, day: date) -> KitchenSettings:
        """The settings that hold on `day`: until the first ones start the defaults, but for what is not dated (a
        ledger keeps one currency on every day)."""
        defaults = Version(KitchenSettings(), BEFORE_ALL)
        return record_on(self.settings, day) or with_undated_facts(defaults, (defaults, *self.settings))

    def with_version(self, kind: str, code: str, version: Version[Any]) -> "Kitchen":
        """The kitchen once a version of a kept record is added; of those with the same start the later holds."""
        if kind == "settings":
            return replace(self, settings=(*self.settings, version))
        plural = PLURALS[kind]
        histories: Histories[Any] = getattr(self, plural)
        after: dict[str, Any] = {plural: {**histories, code: (*histories.get(code, ()), version)}}
        return replace(self, **after)


PLURALS: Mapping[str, str] = {
    "supplier": "suppliers", "ingredient": "ingredients", "breakdown": "breakdowns", "recipe": "recipes",
    "dish": "dishes", "supplier_item": "supplier_items"}
BEFORE_ALL = Mark(0, 0)
EMPTY = Kitchen(0, (), {}, {}, {}, {}, {}, {}, {}, {})


@dataclass(frozen=True, slots=True)
class KitchenOnDay:
    """The records that stand on `day`: started, not retired, undated facts as recorded last.

    Shape:   breakdowns hold all that stand, in use or not; prices (but for suppliers that are retired) and tests are
             all that are recorded, the arithmetic picks those that hold on `day`.
    """

    day: date
    settings: KitchenSettings
    suppliers: Mapping[str, Supplier]
    ingredients: Mapping[str, Ingredient]
    prices: Mapping[str, tuple[Price, ...]]
    breakdowns: Mapping[str, Breakdown]
    yield_tests: Mapping[str, tuple[YieldTest, ...]]
    recipes: Mapping[str, Recipe]
    dishes: Mapping[str, Dish]
