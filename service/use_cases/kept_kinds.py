"""The registry of kept kinds: settings, suppliers and their items, ingredients, breakdowns, recipes, dishes; with their
checks."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from service.domain.currency import minor_unit
from service.domain.dish import Dish
from service.domain.errors import ConversionsDoNotFormATree, CurrencyDiffers, Fault, UnknownUnit, WrongValue
from service.domain.history import versions_from
from service.domain.ingredient import Ingredient
from service.domain.kitchen import Kitchen
from service.domain.kitchen_settings import KitchenSettings
from service.domain.quantity import Conversion, check_conversions, unit_named
from service.domain.recipe import Recipe
from service.use_cases.breakdown_check import breakdown_faults, made_by_no_other_before, taken_over
from service.use_cases.kinds import SETTINGS, Change, Kind
from service.use_cases.line_checks import line_faults, reference_fault
from service.use_cases.supplier_item_check import its_supplier, supplier_item_faults


def _settings_faults(change: Change, kitchen: Kitchen) -> Sequence[Fault]:
    settings: KitchenSettings = change.record
    faults: list[Fault] = []
    try:
        places = minor_unit(settings.currency)
        if settings.price_step is not None and finer_than(settings.price_step, places):
            faults.append(WrongValue(f"Menu prices in {settings.currency} have at most {places} decimals, and so has "
                                     "the step that they go up in.", "#/price_step"))
        faults.extend(_too_fine_for(settings.currency, places, change, kitchen))
    except WrongValue as fault:
        faults.append(fault.at("#/currency"))
    try:
        ZoneInfo(settings.time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        faults.append(WrongValue(f"{settings.time_zone!r} is not a time zone of the IANA database; Europe/London is.",
                                 "#/time_zone"))
    faults.extend(_sections_named_twice(settings))
    before = kitchen.settings_on(change.day)
    if settings.currency != before.currency and any(kitchen.prices.values()):
        faults.append(CurrencyDiffers(
            f"Prices are recorded in {before.currency} already; a ledger keeps one currency.", "#/currency"))
    return faults


def _sections_named_twice(settings: KitchenSettings) -> Iterator[Fault]:
    said: dict[str, Decimal] = {}
    for place, one in enumerate(settings.section_targets):
        if one.section in said:
            yield WrongValue(f"The section {one.section!r} has a target above already, of {said[one.section]} %: give "
                             "each section one.", f"#/section_targets/{place}/section")
        said.setdefault(one.section, one.target_food_cost_percent)


def _too_fine_for(currency: str, places: int, change: Change, kitchen: Kitchen) -> list[Fault]:
    """Menu prices, now or scheduled, that could not be published in the currency as they stand."""
    dishes = sorted(code for code, history in kitchen.dishes.items()
                    if any(not version.retired and version.record.menu_price is not None
                           and finer_than(version.record.menu_price, places)
                           for version in versions_from(history, change.day)))
    if not dishes:
        return []
    return [WrongValue(f"Amounts in {currency} have at most {places} decimals, and menu prices with more are recorded: "
                       f"change those of {', '.join(dishes[:10])} first.", "#/currency", dishes=dishes)]


def _ingredient_faults(change: Change, kitchen: Kitchen) -> Sequence[Fault]:
    ingredient: Ingredient = change.record
    faults = _conversion_faults(ingredient.conversions)
    if ingredient.preferred_supplier is not None:
        supplier = reference_fault(kitchen, "supplier", ingredient.preferred_supplier, change.day)
        faults.extend([supplier.at("#/preferred_supplier")] if supplier is not None else [])
    return faults


def _recipe_faults(change: Change, kitchen: Kitchen) -> Sequence[Fault]:
    recipe: Recipe = change.record
    faults = _conversion_faults(recipe.conversions)
    try:
        unit_named(recipe.makes_unit)
    except UnknownUnit as fault:
        faults.append(fault.at("#/makes_unit"))
    return [*faults, *line_faults(recipe.lines, kitchen, change.day, itself=("recipe", change.code))]


def _dish_faults(change: Change, kitchen: Kitchen) -> Sequence[Fault]:
    dish: Dish = change.record
    settings = kitchen.settings_on(change.day)
    faults: list[Fault] = []
    places = minor_unit(settings.currency)
    if dish.menu_price is not None and finer_than(dish.menu_price, places):
        faults.append(WrongValue(f"A menu price in {settings.currency} has at most {places} decimals.", "#/menu_price"))
    return [*faults, *line_faults(dish.lines, kitchen, change.day)]


def finer_than(amount: Decimal, places: int) -> bool:
    """Whether the amount has more decimals than the currency's minor unit."""
    return Fraction(amount) % Fraction(1, 10 ** places) != 0


def _conversion_faults(conversions: Sequence[Conversion]) -> list[Fault]:
    try:
        check_conversions(conversions)
    except (ConversionsDoNotFormATree, UnknownUnit) as fault:
        return [fault.at("#/conversions")]
    return []


def _nothing_to_check(_change: Change, _kitchen: Kitchen) -> Sequence[Fault]:
    return ()


settings_kind = Kind("settings", "settings", lambda kitchen: {SETTINGS: kitchen.settings}, _settings_faults,
                     has_defaults=True)
supplier_kind = Kind("supplier", "suppliers", lambda kitchen: kitchen.suppliers, _nothing_to_check)
ingredient_kind = Kind("ingredient", "ingredients", lambda kitchen: kitchen.ingredients, _ingredient_faults)
breakdown_kind = Kind("breakdown", "breakdowns", lambda kitchen: kitchen.breakdowns, breakdown_faults, taken_over,
                      made_by_no_other_before)
recipe_kind = Kind("recipe", "recipes", lambda kitchen: kitchen.recipes, _recipe_faults)
dish_kind = Kind("dish", "dishes", lambda kitchen: kitchen.dishes, _dish_faults)
supplier_item_kind = Kind("supplier_item", "supplier_items", lambda kitchen: kitchen.supplier_items,
                          supplier_item_faults, owner=its_supplier, moves_figures=False)
