"""Publication: a figure as it goes out. Rounded once from the exact one, in plain fixed point, None where unknown."""

from fractions import Fraction

from service.domain.rounding import PERCENT_PLACES, SHARE_PLACES, UNIT_COST_PLACES, published, text


def in_words(value: Fraction | None, places: int) -> str | None:
    """The figure with exactly `places` decimals, or None where there is no number."""
    return None if value is None else text(published(value, places))


def cost_in_words(value: Fraction | None) -> str | None:
    """A unit cost or the cost of a dish: 4 decimals."""
    return in_words(value, UNIT_COST_PLACES)


def percent_in_words(value: Fraction | None) -> str | None:
    """A percentage: 2 decimals."""
    return in_words(value, PERCENT_PLACES)


def share_in_words(value: Fraction | None) -> str | None:
    """A yield, share or cost factor: 4 decimals."""
    return in_words(value, SHARE_PLACES)


def total(material: Fraction | None, labour: Fraction | None) -> Fraction | None:
    """Material and labour together; None while either is not known."""
    return None if material is None or labour is None else material + labour
