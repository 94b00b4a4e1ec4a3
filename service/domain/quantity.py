"""Quantities: units with exact factors, and conversion between mass, volume and count.

Factors inside a dimension are exact fractions of the base unit (kg, l, each). Mass, volume and count convert into
each other only through the conversions of an ingredient, cut or recipe, at most two a record so that they form a tree.

Source: NIST SP 811, appendix B, and NIST Handbook 44, appendix C, for the avoirdupois and US measures; the Weights and
Measures Act 1985 (UK), schedule 1, for the imperial gallon; UN/ECE Recommendation 20 for the codes.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache

from service.domain.errors import ConversionsDoNotFormATree, MissingConversion, UnknownUnit, WrongValue


class Dimension(StrEnum):
    """What a unit measures."""

    MASS = "mass"
    VOLUME = "volume"
    COUNT = "count"


BASE_UNITS: Mapping[Dimension, str] = {Dimension.MASS: "kg", Dimension.VOLUME: "l", Dimension.COUNT: "each"}


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: its name here, what it measures, and how many base units it is, exactly."""

    name: str
    dimension: Dimension
    factor: Fraction
    recommendation_20: tuple[str, ...] = ()


_POUND = Fraction("0.45359237")
_US_GALLON = Fraction("3.785411784")
_IMPERIAL_GALLON = Fraction("4.54609")
_MASS, _VOLUME, _COUNT = Dimension.MASS, Dimension.VOLUME, Dimension.COUNT

UNITS: Mapping[str, Unit] = {
    unit.name: unit
    for unit in (
        Unit("kg", _MASS, Fraction(1), ("KGM",)),
        Unit("g", _MASS, Fraction(1, 1000), ("GRM",)),
        Unit("lb", _MASS, _POUND, ("LBR",)),
        Unit("oz", _MASS, _POUND / 16, ("ONZ",)),
        Unit("l", _VOLUME, Fraction(1), ("LTR",)),
        Unit("ml", _VOLUME, Fraction(1, 1000), ("MLT",)),
        Unit("us_gallon", _VOLUME, _US_GALLON, ("GLL",)),
        Unit("us_quart", _VOLUME, _US_GALLON / 4, ("QTL",)),
        Unit("us_pint", _VOLUME, _US_GALLON / 8, ("PTL",)),
        Unit("us_cup", _VOLUME, _US_GALLON / 16, ("G21",)),
        Unit("us_fl_oz", _VOLUME, _US_GALLON / 128, ("OZA",)),
        Unit("us_tbsp", _VOLUME, _US_GALLON / 256, ("G24",)),
        Unit("us_tsp", _VOLUME, _US_GALLON / 768, ("G25",)),
        Unit("imp_gallon", _VOLUME, _IMPERIAL_GALLON, ("GLI",)),
        Unit("imp_quart", _VOLUME, _IMPERIAL_GALLON / 4, ("QTI",)),
        Unit("imp_pint", _VOLUME, _IMPERIAL_GALLON / 8, ("PTI",)),
        Unit("imp_cup", _VOLUME, _IMPERIAL_GALLON / 16),
        Unit("imp_fl_oz", _VOLUME, _IMPERIAL_GALLON / 160, ("OZI",)),
        Unit("metric_cup", _VOLUME, Fraction(1, 4)),
        Unit("metric_tbsp", _VOLUME, Fraction(15, 1000)),
        Unit("metric_tsp", _VOLUME, Fraction(5, 1000)),
        Unit("each", _COUNT, Fraction(1), ("C62", "EA", "H87")),
        Unit("dozen", _COUNT, Fraction(12), ("DZN",)),
    )
}

_BY_CODE: Mapping[str, Unit] = {code: unit for unit in UNITS.values() for code in unit.recommendation_20}


@dataclass(frozen=True, slots=True)
class Conversion:
    """`quantity` of `unit` is `to_quantity` of `to_unit`, in another dimension: 1 each = 0.055 kg."""

    unit: str
    to_quantity: Decimal
    to_unit: str
    quantity: Decimal = Decimal(1)


def unit_named(name: str) -> Unit:
    """The unit of that name.

    Raises:  UnknownUnit, listing the units there are.
    """
    try:
        return UNITS[name]
    except KeyError:
        raise UnknownUnit(f"{name!r} is not a unit here; use one of {', '.join(UNITS)}.", unit=name) from None


def unit_of_code(code: str) -> Unit | None:
    """The unit with that UN/ECE Recommendation 20 code, or None. Portions (PTN) are `each`."""
    return UNITS["each"] if code == "PTN" else _BY_CODE.get(code)


def base_unit_of(name: str) -> str:
    """kg, l or each: the base unit of that unit's dimension."""
    return BASE_UNITS[unit_named(name).dimension]


def check_conversions(conversions: Sequence[Conversion]) -> None:
    """Hold the conversions of one record to a tree over mass, volume and count.

    Raises:  ConversionsDoNotFormATree, UnknownUnit, WrongValue for a quantity that is not above zero.
    """
    joined: list[frozenset[Dimension]] = []
    for conversion in conversions:
        if conversion.quantity <= 0 or conversion.to_quantity <= 0:
            raise WrongValue(f"Both sides of a conversion are above zero: {_in_words(conversion)} is not.")
        pair = frozenset((unit_named(conversion.unit).dimension, unit_named(conversion.to_unit).dimension))
        if len(pair) == 1:
            raise ConversionsDoNotFormATree(
                f"{conversion.unit} and {conversion.to_unit} measure the same thing and convert by themselves; "
                "leave this conversion out.")
        if pair in joined:
            raise ConversionsDoNotFormATree(
                f"Two conversions join {' and '.join(sorted(pair))}; keep one, so that there is one answer.")
        joined.append(pair)
    if len(joined) > 2:
        raise ConversionsDoNotFormATree(
            "Three conversions join mass, volume and count all round; leave one out, so that there is one answer.")


def convert(quantity: Fraction, unit: str, to_unit: str, conversions: Sequence[Conversion]) -> Fraction:
    """`quantity` of `unit` in `to_unit`, through the record's own conversions where the dimensions differ.

    Raises:  MissingConversion naming the two units, UnknownUnit.
    Example: 3 each of an egg with 1 each = 0.055 kg is 165 g.
    """
    own_factor = _factor_by_itself(unit, to_unit)
    if own_factor is not None:
        return quantity * own_factor
    here, there = unit_named(unit), unit_named(to_unit)
    bridge = _bridge(here.dimension, there.dimension, tuple(conversions))
    if bridge is None:
        raise MissingConversion(
            f"{unit} does not convert into {to_unit}: record how many {BASE_UNITS[there.dimension]} "
            f"one {BASE_UNITS[here.dimension]} is.", unit=unit, to_unit=to_unit)
    return quantity * here.factor * bridge / there.factor


@lru_cache(maxsize=1024)
def _factor_by_itself(unit: str, to_unit: str) -> Fraction | None:
    """How many `to_unit` one `unit` is, in every kitchen; None when they measure different things.

    Kept, because a menu converts the same few pairs of units a hundred thousand times.
    """
    here, there = unit_named(unit), unit_named(to_unit)
    return here.factor / there.factor if here.dimension is there.dimension else None


@lru_cache(maxsize=4096)
def _bridge(here: Dimension, there: Dimension, conversions: tuple[Conversion, ...]) -> Fraction | None:
    """How many base units of `there` one base unit of `here` is, through one conversion or two."""
    steps: dict[tuple[Dimension, Dimension], Fraction] = {}
    for conversion in conversions:
        left, right = unit_named(conversion.unit), unit_named(conversion.to_unit)
        ratio = (Fraction(conversion.to_quantity) * right.factor) / (Fraction(conversion.quantity) * left.factor)
        steps[left.dimension, right.dimension] = ratio
        steps[right.dimension, left.dimension] = 1 / ratio
    if (here, there) in steps:
        return steps[here, there]
    third = next(dimension for dimension in Dimension if dimension not in (here, there))
    if (here, third) in steps and (third, there) in steps:
        return steps[here, third] * steps[third, there]
    return None


def _in_words(conversion: Conversion) -> str:
    return f"{conversion.quantity:f} {conversion.unit} = {conversion.to_quantity:f} {conversion.to_unit}"
