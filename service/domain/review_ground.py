"""The ground that a price list is reviewed on: the kitchen as known at one revision, as far as one supplier goes.

Everything is looked up once and kept for the length of a review, since a list has up to 100 000 rows and few different
ingredients, units and days.
"""

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from service.domain.errors import MissingConversion, UnknownUnit
from service.domain.gtin import in_fourteen_digits
from service.domain.history import record_on
from service.domain.ingredient import Ingredient
from service.domain.kitchen import Kitchen
from service.domain.kitchen_settings import KitchenSettings
from service.domain.price import Price
from service.domain.price_change import FEWEST_FOR_A_SPREAD
from service.domain.price_in_force import deciding_price, offers
from service.domain.quantity import convert
from service.domain.supplier_item import SupplierItem
from service.domain.supplier_items import by_gtin, items_of

ONE = Fraction(1)
HISTORY = timedelta(days=365)


class Ground:
    """What one supplier's list is held against: its items and prices, the ingredients, the settings.

    Shape:   `day` is the day on which the list starts: items and settings are those of that day; prices are looked up
             on the day on which each row starts.
    """

    def __init__(self, kitchen: Kitchen, supplier: str, day: date, today: date) -> None:
        self.kitchen, self.supplier, self.day, self.today = kitchen, supplier, day, today
        self.settings: KitchenSettings = kitchen.settings_on(day)
        self.items = items_of(kitchen, supplier, day)
        self._by_gtin = by_gtin(self.items)
        self._by_name = {item.name.casefold(): item for item in self.items.values()}
        self._ingredients: dict[str, Ingredient | None] = {}
        self._per_base_unit: dict[tuple[str, str], Fraction | None] = {}
        self._in_force: dict[tuple[str, date], Price | None] = {}
        self._names: dict[str, tuple[str, str]] = {}
        self._deciding: dict[tuple[str, date], Price | None] = {}

    def item(self, code: str, gtin: str, name: str) -> SupplierItem | None:
        """The item that a row names: by the supplier's code, else by its GTIN, else, where it gives neither, its name.
        """
        found = self.items.get(code) if code else None
        if found is None and gtin:
            found = self._by_gtin.get(in_fourteen_digits(gtin))
        if found is None and name and not code and not gtin:
            found = self._by_name.get(name.casefold())
        return found

    def ingredient(self, code: str) -> Ingredient | None:
        """The ingredient as it stands on the day of the list; None when it is retired."""
        if code not in self._ingredients:
            self._ingredients[code] = record_on(self.kitchen.ingredients.get(code, ()), self.day)
        return self._ingredients[code]

    def base_units(self, unit: str, ingredient: Ingredient) -> Fraction | None:
        """How many base units of the ingredient one `unit` is; None when it does not convert."""
        if unit == ingredient.base_unit:
            return ONE
        key = (unit, ingredient.code)
        if key not in self._per_base_unit:
            try:
                factor = convert(ONE, unit, ingredient.base_unit, ingredient.conversions)
            except (MissingConversion, UnknownUnit):
                factor = None
            self._per_base_unit[key] = factor
        return self._per_base_unit[key]

    def unit_price(self, amount: Decimal, quantity: Decimal, unit: str, ingredient: Ingredient) -> Fraction | None:
        """Money per base unit; None when the unit does not convert."""
        factor = self.base_units(unit, ingredient)
        return None if factor is None else Fraction(amount) / (Fraction(quantity) * factor)

    def in_force(self, ingredient: str, day: date) -> Price | None:
        """This supplier's price in force on a day."""
        key = (ingredient, day)
        if key not in self._in_force:
            self._in_force[key] = offers(self._own(ingredient), day).get(self.supplier)
        return self._in_force[key]

    def deciding(self, ingredient: Ingredient, day: date) -> Price | None:
        """The price that the ingredient's costs rest on, whoever's it is."""
        key = (ingredient.code, day)
        if key not in self._deciding:
            found = deciding_price(ingredient, self.kitchen.prices.get(ingredient.code, ()), day)
            self._deciding[key] = found if isinstance(found, Price) else None
        return self._deciding[key]

    def decides(self, ingredient: Ingredient, day: date) -> bool:
        """Whether a price of this supplier moves figures: it is preferred, or nobody else offers."""
        if ingredient.preferred_supplier is not None:
            return ingredient.preferred_supplier == self.supplier
        return offers(self.kitchen.prices.get(ingredient.code, ()), day).keys() <= {self.supplier}

    def last_year(self, ingredient: Ingredient, day: date) -> list[Fraction]:
        """Unit prices of this supplier that began within the year before a day."""
        if len(self.kitchen.prices.get(ingredient.code, ())) < FEWEST_FOR_A_SPREAD:
            return []
        begun = (price for price in self._own(ingredient.code)
                 if price.withdrawn is None and day - HISTORY <= price.effective_from <= day)
        found = (self.unit_price(price.amount, price.pack_quantity, price.pack_unit, ingredient) for price in begun)
        return [price for price in found if price is not None]

    def names(self) -> Mapping[str, tuple[str, str]]:
        """What an unknown name may have been meant for: names, folded, with kind and code; an item before others."""
        if not self._names:
            standing = ((code, record_on(history, self.day)) for code, history in self.kitchen.ingredients.items())
            self._names = {record.name.casefold(): ("ingredient", code) for code, record in standing if record}
            self._names.update({item.name.casefold(): ("item", code) for code, item in self.items.items()})
        return self._names

    def _own(self, ingredient: str) -> Iterable[Price]:
        return [price for price in self.kitchen.prices.get(ingredient, ()) if price.supplier == self.supplier]
