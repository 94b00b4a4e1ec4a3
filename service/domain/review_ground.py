"""The ground that a price list is reviewed on: the kitchen as known at one revision, as far as one supplier goes.

Everything is looked up once and kept for the length of a review, since a list has up to 100 000 rows and few different
ingredients, units and days. What a retired supplier offered does not count, as it does in no figure.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from service.domain.errors import MissingConversion, UnknownUnit
from service.domain.gtin import in_fourteen_digits
from service.domain.history import record_on, version_in_force, versions_from
from service.domain.ingredient import Ingredient
from service.domain.kitchen import Kitchen
from service.domain.kitchen_settings import KitchenSettings
from service.domain.price import Price
from service.domain.price_change import FEWEST_FOR_A_SPREAD, Spread, spread_of
from service.domain.price_in_force import deciding_price, offers
from service.domain.quantity import convert
from service.domain.standing import retired_suppliers
from service.domain.supplier_item import SupplierItem
from service.domain.supplier_items import by_gtin, by_name, items_of

ONE = Fraction(1)
ONE_DAY = timedelta(days=1)
HISTORY = timedelta(days=365)


class Ground:
    """What one supplier's list is held against: its items and prices, the ingredients, the settings.

    Shape:   `day` is the day on which the list starts: items and settings are those of that day; prices, and who is
             preferred, are looked up on the day on which each row starts.
    """

    def __init__(self, kitchen: Kitchen, supplier: str, day: date, today: date) -> None:
        self.kitchen, self.supplier, self.day, self.today = kitchen, supplier, day, today
        self.settings: KitchenSettings = kitchen.settings_on(day)
        self.items = items_of(kitchen, supplier, day)
        self._by_gtin = by_gtin(self.items)
        self._by_name = by_name(self.items)
        self._ingredients: dict[str, Ingredient | None] = {}
        self._per_base_unit: dict[tuple[str, str], Fraction | None] = {}
        self._retired: dict[date, frozenset[str]] = {}
        self._stands: dict[date, bool] = {}
        self._in_force: dict[tuple[str, date], Price | None] = {}
        self._deciding: dict[tuple[str, date], Price | None] = {}
        self._spreads: dict[tuple[str, date], Spread | None] = {}

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

    def supplier_stands(self, day: date) -> bool:
        """Whether prices of the supplier can be recorded from a day on: it stands then, and is not retired later."""
        if day not in self._stands:
            history = self.kitchen.suppliers.get(self.supplier, ())
            self._stands[day] = version_in_force(history, day) is not None and not any(
                version.retired for version in versions_from(history, day))
        return self._stands[day]

    def in_force(self, ingredient: str, day: date) -> Price | None:
        """This supplier's price in force on a day."""
        key = (ingredient, day)
        if key not in self._in_force:
            self._in_force[key] = self._offered(ingredient, day).get(self.supplier)
        return self._in_force[key]

    def next_own(self, ingredient: str, day: date, ends: date | None) -> Price | None:
        """This supplier's price that starts next after a day, up to a last one (None: ever)."""
        later = (price for price in self.kitchen.prices.get(ingredient, ())
                 if price.effective_from > day and price.supplier == self.supplier and price.withdrawn is None
                 and (ends is None or price.effective_from <= ends))
        return min(later, key=lambda price: price.effective_from, default=None)

    def deciding(self, ingredient: Ingredient, day: date) -> Price | None:
        """The price that the ingredient's costs rest on, whoever's it is."""
        key = (ingredient.code, day)
        if key not in self._deciding:
            found = deciding_price(self._standing(ingredient, day), self._prices(ingredient.code, day), day)
            self._deciding[key] = found if isinstance(found, Price) else None
        return self._deciding[key]

    def decides(self, ingredient: Ingredient, day: date) -> bool:
        """Whether a price of this supplier moves figures: it is preferred, or nobody else offers."""
        preferred = self._standing(ingredient, day).preferred_supplier
        if preferred is not None:
            return preferred == self.supplier
        return self._offered(ingredient.code, day).keys() <= {self.supplier}

    def decided_before_today(self, ingredient: Ingredient, starts: date, ends: date | None) -> bool:
        """Whether a price of this supplier would move figures on some day from its start up to yesterday.

        Who decides can change in between: another supplier is preferred, or an offer ends.
        """
        last = min(self.today - ONE_DAY, ends or date.max)
        days = {starts} | {day for day in self._turns(ingredient.code) if starts < day}
        return any(day <= last and self.decides(ingredient, day) for day in days)

    def offered_by_others(self, ingredient: Ingredient, day: date) -> Sequence[str]:
        """Who else offers an ingredient for which nobody is preferred."""
        if self._standing(ingredient, day).preferred_supplier is not None:
            return ()
        return [supplier for supplier in self._offered(ingredient.code, day) if supplier != self.supplier]

    def spread(self, ingredient: Ingredient, day: date) -> Spread | None:
        """How this supplier's prices that began within the year before a day are spread."""
        prices = self.kitchen.prices.get(ingredient.code, ())
        if len(prices) < FEWEST_FOR_A_SPREAD:
            return None
        key = (ingredient.code, day)
        if key not in self._spreads:
            self._spreads[key] = spread_of(self._last_year(prices, ingredient, day))
        return self._spreads[key]

    def names(self) -> Mapping[str, tuple[str, str]]:
        """What an unknown name may have been meant for: names, folded, with kind and code; an item before others."""
        standing = ((code, record_on(history, self.day)) for code, history in self.kitchen.ingredients.items())
        return {record.name.casefold(): ("ingredient", code) for code, record in standing if record} | {
            item.name.casefold(): ("item", code) for code, item in self.items.items()}

    def _standing(self, ingredient: Ingredient, day: date) -> Ingredient:
        """The ingredient as it stands on another day: who is preferred is dated."""
        return record_on(self.kitchen.ingredients.get(ingredient.code, ()), day) or ingredient

    def _prices(self, ingredient: str, day: date) -> Sequence[Price]:
        if day not in self._retired:
            self._retired[day] = retired_suppliers(self.kitchen.suppliers, day)
        prices, retired = self.kitchen.prices.get(ingredient, ()), self._retired[day]
        return [price for price in prices if price.supplier not in retired] if retired else prices

    def _offered(self, ingredient: str, day: date) -> Mapping[str, Price]:
        """Every standing supplier's price in force on a day."""
        return offers(self._prices(ingredient, day), day)

    def _turns(self, ingredient: str) -> Iterator[date]:
        """Days on which it can change who decides."""
        prices, suppliers = self.kitchen.prices.get(ingredient, ()), self.kitchen.suppliers
        for price in prices:
            yield price.effective_from
            if price.effective_to is not None:
                yield price.effective_to + ONE_DAY
        starts = [version.effective_from for version in self.kitchen.ingredients.get(ingredient, ())]
        for supplier in {price.supplier for price in prices}:
            starts += [version.effective_from for version in suppliers.get(supplier, ())]
        yield from (start for start in starts if start is not None)

    def _last_year(self, prices: Sequence[Price], ingredient: Ingredient, day: date) -> list[Fraction]:
        begun = (price for price in prices if price.supplier == self.supplier and price.withdrawn is None
                 and day - HISTORY <= price.effective_from <= day)
        found = (self.unit_price(price.amount, price.pack_quantity, price.pack_unit, ingredient) for price in begun)
        return [price for price in found if price is not None]
