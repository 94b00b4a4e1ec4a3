"""Random kitchens that move: prices start and end, suppliers are preferred or retired, recipes and dishes change.

All of it after `DAY`, on the days up to `END`; several changes may be made by one revision or start on one day.
"""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from service.domain.history import Mark, Version, record_on
from service.domain.kitchen import Kitchen
from service.domain.price import Price
from tests.kitchens import DAY, SUPPLIERS, Draw, decimals, kitchens
from tests.recorded import recorded

END = DAY + timedelta(days=6)
FIRST_REVISION = 1000
DAYS = st.integers(1, (END - DAY).days).map(lambda days: DAY + timedelta(days=days))


@st.composite
def moving_kitchens(draw: Draw) -> Kitchen:
    """A kitchen of `tests.kitchens`, and up to ten changes."""
    kitchen = recorded(draw(kitchens()))
    revision = FIRST_REVISION
    for entry in range(0, 10 * draw(st.integers(1, 10)), 10):
        revision += draw(st.sampled_from([0, 0, 1]))
        change = draw(st.sampled_from([a_price_list] * 5 + [a_price] * 3 + [an_ended_price] * 2 + [
            another_preferred, a_retirement, another_portioning, another_batch]))
        kitchen = change(draw, kitchen, Mark(revision, entry + 1))
    return replace(kitchen, revision=revision)


def a_price(draw: Draw, kitchen: Kitchen, made: Mark, ends: date | None = None) -> Kitchen:
    """A price by the base unit."""
    code = draw(st.sampled_from(sorted(kitchen.ingredients)))
    start = draw(DAYS) if ends is None else DAY
    price = Price(code, draw(st.sampled_from(SUPPLIERS[:1] * 4 + SUPPLIERS)), draw(decimals("0", "30")), Decimal(1),
                  kitchen.ingredients[code][0].record.base_unit, start, ends, "", made)
    return replace(kitchen, prices={**kitchen.prices, code: (*kitchen.prices.get(code, ()), price)})


def a_price_list(draw: Draw, kitchen: Kitchen, made: Mark) -> Kitchen:
    """New prices for all that the preferred supplier sells, by one revision from one day."""
    start = draw(DAYS)
    for entry, code in enumerate(sorted(kitchen.ingredients)):
        price = Price(code, SUPPLIERS[0], draw(decimals("0", "30")), Decimal(1),
                      kitchen.ingredients[code][0].record.base_unit, start, None, "",
                      Mark(made.revision, made.entry + entry))
        kitchen = replace(kitchen, prices={**kitchen.prices, code: (*kitchen.prices.get(code, ()), price)})
    return kitchen


def an_ended_price(draw: Draw, kitchen: Kitchen, made: Mark) -> Kitchen:
    """A contract that runs out."""
    return a_price(draw, kitchen, made, draw(DAYS) - timedelta(days=1))


def another_preferred(draw: Draw, kitchen: Kitchen, made: Mark) -> Kitchen:
    code = draw(st.sampled_from(sorted(kitchen.ingredients)))
    preferred = draw(st.sampled_from([None, *SUPPLIERS]))
    return _again(draw, kitchen, "ingredient", code, made, preferred_supplier=preferred)


def a_retirement(draw: Draw, kitchen: Kitchen, made: Mark) -> Kitchen:
    """A supplier, an ingredient or a dish is retired, or is back."""
    kind, kept = draw(st.sampled_from([
        ("supplier", kitchen.suppliers), ("ingredient", kitchen.ingredients), ("dish", kitchen.dishes)]))
    if not kept:
        return kitchen
    code = draw(st.sampled_from(sorted(kept)))
    version = Version(kept[code][0].record, made, draw(DAYS), retired=draw(st.booleans()))
    return kitchen.with_version(kind, code, version)


def another_portioning(draw: Draw, kitchen: Kitchen, made: Mark) -> Kitchen:
    code = draw(st.sampled_from(sorted(kitchen.dishes)))
    return _again(draw, kitchen, "dish", code, made, portions=draw(decimals("1", "9")))


def another_batch(draw: Draw, kitchen: Kitchen, made: Mark) -> Kitchen:
    if not kitchen.recipes:
        return kitchen
    code = draw(st.sampled_from(sorted(kitchen.recipes)))
    return _again(draw, kitchen, "recipe", code, made, makes_quantity=draw(decimals("1", "9")))


def _again(draw: Draw, kitchen: Kitchen, kind: str, code: str, made: Mark, **facts: Any) -> Kitchen:
    """The record as it stands on a day, but for some facts, from that day on."""
    day = draw(DAYS)
    histories: Any = getattr(kitchen, {"dish": "dishes"}.get(kind, f"{kind}s"))
    record = record_on(histories[code], day) or histories[code][0].record
    return kitchen.with_version(kind, code, Version(replace(record, **facts), made, day))
