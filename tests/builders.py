"""Records for tests, in trade words: each says only what the test is about, the rest is ordinary.

All of it is invented.
"""

from datetime import date
from decimal import Decimal
from typing import Any

from service.domain.breakdown import Breakdown, BreakdownInput, Method, Output, Role, YieldsFrom
from service.domain.history import Mark
from service.domain.ingredient import Ingredient
from service.domain.price import Price, Withdrawal
from service.domain.quantity import Conversion
from service.domain.yield_test import WeighedOutput, YieldTest

NEW_YEAR = date(2026, 1, 5)
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


def _an_output(cut: str, role: Role, expected_yield: str, **facts: Any) -> Output:
    return Output(cut=cut, name=cut, role=role, expected_yield=Decimal(expected_yield), **{
        name: Decimal(value) if isinstance(value, str) else value for name, value in facts.items()})
