"""The working of prices and units: what an ingredient costs per kg, l or each, down to the supplier's price.

    unit price = amount / (pack quantity x base units in one pack unit)

A unit of the same kind converts by its own exact factor; mass, volume and count by the record's own conversions, which
are a step of their own and name the version they were recorded with.
"""

from collections.abc import Iterator
from fractions import Fraction

from service.domain.compile import price_or_gap
from service.domain.compile_lines import unit_factor
from service.domain.findings import Gap
from service.domain.network import Key
from service.domain.price import Price
from service.domain.quantity import BASE_UNITS, Conversion, Dimension, unit_named
from service.domain.rounding import text
from service.domain.working import ONE, How, Operation, Part, RecordUsed, StepKey
from service.domain.working_book import MATERIAL, WorkingBook


def write_ingredient(book: WorkingBook, code: str) -> StepKey:
    """What a base unit of the ingredient costs."""
    ingredient = book.kitchen.ingredients[code]
    key, per = (MATERIAL, "ingredient", code), book.money_per(ingredient.base_unit)
    price = price_or_gap(book.kitchen, ingredient)
    if isinstance(price, Gap):
        return book.steps.add(key, f"{ingredient.name}: price", book.records.kept("ingredient", code),
                              "the price in force, over its pack", Operation.GIVEN,
                              [Part("amount", None, How.TAKE)], per, (price,))
    gaps = book.own_gaps(("ingredient", code), MATERIAL)
    in_one = ([Part(f"{ingredient.base_unit} in one {price.pack_unit}", None, How.DIVIDE)] if gaps
              else unit_parts(book, ("ingredient", code), price.pack_unit, How.DIVIDE))
    parts = [Part("amount", Fraction(price.amount), How.MULTIPLY, book.currency),
             Part("pack quantity", Fraction(price.pack_quantity), How.DIVIDE, price.pack_unit), *in_one]
    return book.steps.add(key, f"{ingredient.name}: price", book.records.price(price), _formula(price),
                          Operation.PRODUCT, parts, per, gaps, _why_this_price(book, price))


def unit_parts(book: WorkingBook, key: Key, unit: str, how: How) -> list[Part]:
    """How many units that costs are per one `unit` is, as a number that goes into a step; none where they are one."""
    measure = book.measures.get(key)
    if measure is None or measure.unit == unit:
        return []
    here, there = unit_named(unit), unit_named(measure.unit)
    name, words = f"{measure.unit} in one {unit}", f"{measure.unit} per {unit}"
    if here.dimension is there.dimension:
        return [Part(name, here.factor / there.factor, how, words)]
    step = ("unit", *key, unit)
    if step not in book.steps:
        _write_conversion(book, key, unit, step)
    return [book.steps.part(step, how, name)]


def _write_conversion(book: WorkingBook, key: Key, unit: str, step: StepKey) -> None:
    measure = book.measures[key]
    what = f"{book.name(key)}: {measure.unit} in one {unit}"
    factor = unit_factor(key, unit, measure)
    record = _record_of_conversions(book, key)
    words = f"{measure.unit} per {unit}"
    if isinstance(factor, Gap):
        book.steps.add(step, what, record, "by its own conversion", Operation.GIVEN,
                       [Part(words, None, How.TAKE)], words, (factor,))
        return
    here, there = unit_named(unit).dimension, unit_named(measure.unit).dimension
    used = list(_way(here, there, tuple(measure.conversions)))
    parts = [Part(f"{BASE_UNITS[here]} in one {unit}", unit_named(unit).factor, How.MULTIPLY),
             *(part for conversion, forwards in used for part in _conversion_parts(conversion, forwards))]
    said = " and ".join(_in_words(conversion) for conversion, _ in used)
    book.steps.add(step, what, record, f"by its own conversion, {said}", Operation.PRODUCT, parts, words)


def _conversion_parts(conversion: Conversion, forwards: bool) -> Iterator[Part]:
    left = Fraction(conversion.quantity) * unit_named(conversion.unit).factor
    right = Fraction(conversion.to_quantity) * unit_named(conversion.to_unit).factor
    here, there = unit_named(conversion.unit).dimension, unit_named(conversion.to_unit).dimension
    yield Part(f"{text(conversion.to_quantity)} {conversion.to_unit}, in {BASE_UNITS[there]}", right,
               How.MULTIPLY if forwards else How.DIVIDE, BASE_UNITS[there])
    if left != ONE:
        yield Part(f"{text(conversion.quantity)} {conversion.unit}, in {BASE_UNITS[here]}", left,
                   How.DIVIDE if forwards else How.MULTIPLY, BASE_UNITS[here])


def _way(here: Dimension, there: Dimension, conversions: tuple[Conversion, ...]
         ) -> Iterator[tuple[Conversion, bool]]:
    """The conversions that lead from one dimension to another, each with whether it is read forwards."""
    joined = {}
    for conversion in conversions:
        left, right = unit_named(conversion.unit).dimension, unit_named(conversion.to_unit).dimension
        joined[left, right] = (conversion, True)
        joined[right, left] = (conversion, False)
    if (here, there) in joined:
        yield joined[here, there]
        return
    third = next(dimension for dimension in Dimension if dimension not in (here, there))
    yield joined[here, third]
    yield joined[third, there]


def _record_of_conversions(book: WorkingBook, key: Key) -> RecordUsed:
    """A cut's conversion is its portion weight, which is its breakdown's and dated."""
    kind, code = key
    if kind == "cut":
        return book.records.kept("breakdown", book.made[code][0].code)
    return book.records.undated(kind, code)


def _in_words(conversion: Conversion) -> str:
    return (f"{text(conversion.quantity)} {conversion.unit} = {text(conversion.to_quantity)} {conversion.to_unit}")


def _formula(price: Price) -> str:
    return f"{text(price.amount)} for {text(price.pack_quantity)} {price.pack_unit}: amount / pack"


def _why_this_price(book: WorkingBook, price: Price) -> str:
    preferred = book.kitchen.ingredients[price.ingredient].preferred_supplier
    supplier = book.records.name("supplier", price.supplier)
    if preferred is None:
        return f"{supplier} is the only supplier with a price in force"
    revision = book.records.kept("ingredient", price.ingredient).revision
    since = "" if revision is None else f", as recorded in revision {revision}"
    return f"{supplier} is the preferred supplier{since}"
