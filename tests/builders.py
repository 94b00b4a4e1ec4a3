"""Records for tests, in trade words: each says only what the test is about, the rest is ordinary.

All of it is invented.
"""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any

from service.domain.breakdown import Breakdown, BreakdownInput, Method, Output, Role, YieldsFrom
from service.domain.dish import Dish
from service.domain.history import Mark
from service.domain.ingredient import Ingredient
from service.domain.kitchen import KitchenOnDay
from service.domain.kitchen_settings import KitchenSettings
from service.domain.price import Price, Withdrawal
from service.domain.quantity import Conversion
from service.domain.recipe import Line, Recipe
from service.domain.supplier import Supplier
from service.domain.supplier_item import Pack, SupplierItem
from service.domain.yield_test import WeighedOutput, YieldTest

NEW_YEAR = date(2026, 1, 5)
A_DAY = date(2026, 3, 2)
WITHDRAWN = Withdrawal(Mark(900, 1), "a slip of the pen")


def a_conversion(unit: str, to_quantity: str, to_unit: str, quantity: str = "1") -> Conversion:
    """`1 each = 0.055 kg`."""
    return Conversion(unit, Decimal(to_quantity), to_unit, Decimal(quantity))


def a_primal(code: str = "beef-topside", **facts: Any) -> Ingredient:
    """An ingredient bought by the kilogram."""
    return Ingredient(**{"code": code, "name": code, "kind": "primal", "base_unit": "kg", **facts})


def a_price(amount: str = "14.20", **facts: Any) -> Price:
    """A supplier's price per kg, open, from the start of the year."""
    decimals = {name: Decimal(facts.pop(name)) for name in ("pack_quantity",) if name in facts}
    return Price(**{
        "ingredient": "beef-topside", "supplier": "fenmoor", "amount": Decimal(amount), "pack_quantity": Decimal(1),
        "pack_unit": "kg", "effective_from": NEW_YEAR, "effective_to": None, "reference": "", "made": Mark(1, 1),
        **decimals, **facts})


def a_pack(quantity: str = "5", unit: str = "kg", count: str = "2", name: str = "case") -> Pack:
    """A case of two pieces of 5 kg."""
    return Pack(name, Decimal(count), Decimal(quantity), unit)


def an_item(code: str = "10-2345", **facts: Any) -> SupplierItem:
    """What a supplier calls a topside, by the case of two."""
    return SupplierItem(**{"supplier": "fenmoor", "code": code, "name": "Topside PAD", "ingredient": "beef-topside",
                           "pack": a_pack(), **facts})


def a_main(cut: str, expected_yield: str, market_value: str | None = None, **facts: Any) -> Output:
    """A muscle or fillet. Numbers may be given as strings."""
    return _an_output(cut, Role.MAIN, expected_yield, market_value=market_value, **facts)


def a_by_product(cut: str, expected_yield: str, credit_value: str | None = "0", **facts: Any) -> Output:
    return _an_output(cut, Role.BY_PRODUCT, expected_yield, credit_value=credit_value, **facts)


def a_loss(cut: str, expected_yield: str, **facts: Any) -> Output:
    return _an_output(cut, Role.LOSS, expected_yield, **facts)


def a_breakdown(*outputs: Output, **facts: Any) -> Breakdown:
    """A breakdown in use of a topside, by weight and with the declared yields unless said otherwise."""
    return Breakdown(**{
        "code": "topside-seamed", "name": "Topside, seamed", "input": BreakdownInput(ingredient="beef-topside"),
        "outputs": outputs, "method": Method.WEIGHT, "yields_from": YieldsFrom.DECLARED, **facts})


def a_yield_test(input_weight: str, weights: dict[str, str], **facts: Any) -> YieldTest:
    """The weights of one breakdown, in kg."""
    decimals = {name: Decimal(facts.pop(name)) for name in ("opened_weight", "minutes") if name in facts}
    return YieldTest(**{
        "breakdown": "topside-seamed", "tested_on": NEW_YEAR, "unit": "kg", "input_weight": Decimal(input_weight),
        "outputs": tuple(WeighedOutput(cut, Decimal(weight)) for cut, weight in weights.items()),
        "made": Mark(1, 1), **decimals, **facts})


def some_trim(cut: str, expected_yield: str, market_value: str | None = None, **facts: Any) -> Output:
    """Usable lesser pieces."""
    return _an_output(cut, Role.TRIM, expected_yield, market_value=market_value, **facts)


def an_ingredient(code: str = "shallot", **facts: Any) -> Ingredient:
    """Something bought by the kg, declared free of allergens."""
    return Ingredient(**{"code": code, "name": code, "kind": "vegetable", "base_unit": "kg", "allergens": (), **facts})


def a_line(of: str, quantity: str = "1", unit: str = "kg", **facts: Any) -> Line:
    """A line; `of` says what it uses: "ingredient shallot", "cut topside-cap", "recipe jus"."""
    kind, code = of.split()
    return Line(**{"quantity": Decimal(quantity), "unit": unit, kind: code, **_numbers(facts)})


def a_recipe(code: str, *lines: Line, **facts: Any) -> Recipe:
    """A preparation that makes a litre."""
    return Recipe(**{"code": code, "name": code, "makes_quantity": Decimal(1), "makes_unit": "l", "lines": lines,
                     **_numbers(facts, "makes_unit")})


def a_dish(code: str, *lines: Line, **facts: Any) -> Dish:
    """One portion, without a menu price."""
    return Dish(**{"code": code, "name": code, "portions": Decimal(1), "lines": lines, **_numbers(facts)})


def some_settings(**facts: Any) -> KitchenSettings:
    """Pounds, 20 % tax in the menu price, 24.00 an hour."""
    return KitchenSettings(**{"currency": "GBP", "default_tax_rate_percent": Decimal(20),
                              "labour_rate_per_hour": Decimal(24), **_numbers(facts, "currency")})


def a_seamed_topside(*outputs: Output, **facts: Any) -> Breakdown:
    """A topside of two muscles, trim to mince, fat and silverskin, 3 minutes a kg, shared by market value."""
    usual = (a_main("topside-cap", "0.10", "16.00"), a_main("topside-roast", "0.60", "17.00"),
             some_trim("topside-mince", "0.18", "9.00", finishing_cost="0.40"),
             a_by_product("topside-fat", "0.06", "1.20"), a_loss("topside-silverskin", "0.04"))
    return a_breakdown(*(outputs or usual), **{"method": Method.MARKET_VALUE, "labour_minutes_per_kg": Decimal(3),
                                               **_numbers(facts)})


def a_kitchen(*records: Any, day: date = A_DAY, settings: KitchenSettings | None = None) -> KitchenOnDay:
    """The kitchen that holds these records on a day, whatever their kinds."""
    prices = [record for record in records if isinstance(record, Price)]
    tests = [record for record in records if isinstance(record, YieldTest)]
    return KitchenOnDay(
        day=day,
        settings=settings or some_settings(),
        suppliers={price.supplier: Supplier(price.supplier, price.supplier) for price in prices},
        ingredients=_by_code(records, Ingredient),
        prices={code: tuple(price for price in prices if price.ingredient == code)
                for code in {price.ingredient for price in prices}},
        breakdowns=_by_code(records, Breakdown),
        yield_tests={code: tuple(test for test in tests if test.breakdown == code)
                     for code in {test.breakdown for test in tests}},
        recipes=_by_code(records, Recipe),
        dishes=_by_code(records, Dish),
    )


def a_topside_kitchen(*more: Any, settings: KitchenSettings | None = None) -> KitchenOnDay:
    """A topside at 14.20 a kg, seamed as `a_seamed_topside()` says, and whatever else is given."""
    return a_kitchen(a_primal(), a_price(), a_seamed_topside(), *more, settings=settings)


def _by_code(records: Iterable[Any], kind: type) -> dict[str, Any]:
    return {record.code: record for record in records if isinstance(record, kind)}


def _numbers(facts: dict[str, Any], *words: str) -> dict[str, Any]:
    """Numbers given as strings become exact decimals; `words` and other texts stay."""
    texts = {"note", "name", "section", "pos_code", "code", *words}
    return {name: Decimal(value) if type(value) is str and name not in texts else value
            for name, value in facts.items()}


def _an_output(cut: str, role: Role, expected_yield: str, **facts: Any) -> Output:
    return Output(cut=cut, name=cut, role=role, expected_yield=Decimal(expected_yield), **{
        name: Decimal(value) if isinstance(value, str) else value for name, value in facts.items()})
