"""Amounts of money as text: with a point or a comma, a currency, and what they are for.

Rules that always hold: the decimal mark is decided once for a column, from all of its cells; a cell that contradicts it
is a fault, never read the other way. Nothing is guessed: a percentage, a negative, an exponent, digits that are not
ASCII, and words are faults. What could be read both ways ("1.234") says so.

Source: ISO 4217 for codes of currencies; CLDR's number patterns for signs that set thousands apart.
"""

import re
from collections.abc import Iterable, Mapping
from decimal import ROUND_HALF_UP, Decimal
from typing import NamedTuple

from service.integrations.price_lists.cells import shown
from service.integrations.price_lists.currency_words import currency_of
from service.integrations.price_lists.written_numbers import (
    MARKS,
    MOST_DECIMALS,
    MOST_WHOLE_DIGITS,
    has_too_many_digits,
    other_mark,
    telling_mark,
    value_of,
)

LONGEST = 80
_NUMBER = re.compile(r"[.,]?[0-9](?:[0-9.,'\u2019\u00a0\u2009\u202f ]*[0-9])?(?:([.,])[-\u2013\u2014=]{1,2})?")
_PER = re.compile(r"^(?P<money>[^/]*?)\s*(?:/|\b(?:per|pro|par|por|je|pr|al|au|le|il|la|a|\u00e0)\b\.?)\s*(?P<per>.+)$",
                  re.IGNORECASE)
_NOTHING = frozenset(("", "-", "--", "\u2013", "\u2014", "n/a", "N/A", "./.", "?"))
_MILLIONTH = Decimal(1).scaleb(-MOST_DECIMALS)
_ABOVE = Decimal(10) ** MOST_WHOLE_DIGITS


class Amount(NamedTuple):
    """What one text says. A named tuple, as `Written` is: a list has thousands of distinct amounts.

    Shape:   `value` is None where it cannot be read: `fault` says why, with the mend. `other` is the reading with the
             decimal mark the other way, where that reads too. `currency` is empty when unsaid or shared by several;
             `per` is the text of what it is for ("kg" in "14,20 EUR/kg").
    """

    value: Decimal | None = None
    other: Decimal | None = None
    currency: str = ""
    per: str = ""
    fault: str = ""


class Written(NamedTuple):
    """A text taken apart: its number (empty: there is none), its mark where it tells, and what stands beside it."""

    number: str = ""
    mark: str = ""
    currency: str = ""
    per: str = ""
    fault: str = ""


def taken_apart(texts: Iterable[str]) -> Mapping[str, Written]:
    """Each text with what stands in it; whether its point is a decimal point is not yet decided."""
    return {text: _taken_apart(text) for text in texts}


def marks_told(written: Mapping[str, Written], times: Mapping[str, int]) -> Mapping[str, int]:
    """How many cells give away a decimal point, and how many a comma. `times` is how often each text stands there."""
    told = {".": 0, ",": 0}
    for text, each in written.items():
        if each.mark:
            told[each.mark] += times[text]
    return told


def read_amounts(written: Mapping[str, Written], mark: str) -> dict[str, Amount]:
    """What each text says, in a column with that decimal mark."""
    return {text: _read(text, each, mark) for text, each in written.items()}


def of_number(number: Decimal) -> Amount:
    """What a number of a workbook says. It comes out of a binary fraction: it is taken to the millionth.

    Example: 14.200000000000001 is 14.2.
    """
    if not number.is_finite():
        return Amount(fault="The cell holds an error, not an amount.")
    if number < 0:
        return Amount(fault=f"{number:f} is below zero: a price is zero or more.")
    if number >= _ABOVE:
        return Amount(fault=f"{number:f} has more than {MOST_WHOLE_DIGITS} digits before the decimal mark.")
    rounded = number.quantize(_MILLIONTH, ROUND_HALF_UP)
    return Amount(rounded.normalize() if rounded != rounded.to_integral_value() else rounded.to_integral_value())


def _read(text: str, written: Written, mark: str) -> Amount:
    number, told, currency, per, fault = written
    if fault:
        return Amount(fault=fault)
    value = value_of(number, mark)
    if value is None:
        return Amount(fault=_why_not(text, written, mark))
    other = value_of(number, other_mark(mark)) if not told and ("." in number or "," in number) else None
    return Amount(value, other, currency, per)


def _taken_apart(text: str) -> Written:
    digits = text.replace(".", "").replace(",", "")
    if digits.isdigit() and digits.isascii() and text[-1] not in MARKS and len(text) <= LONGEST:
        return Written(text, telling_mark(text))
    if text in _NOTHING:
        return Written(fault="There is no price: give one, or take the row out.")
    found = _NUMBER.search(text) if len(text) <= LONGEST else None
    if found is None:
        return Written(fault=_no_amount(text))
    before, after = text[:found.start()].strip(), text[found.end():].strip()
    dash_mark = found.group(1) or ""
    number = found.group()[:found.start(1) - found.start()] if dash_mark else found.group()
    return _with_neighbours(text, number, dash_mark, before, after)


def _with_neighbours(text: str, number: str, dash_mark: str, before: str, after: str) -> Written:
    """The number with what stands before and after it, all of which has to be understood."""
    per = _PER.match(after)
    money, what_for = (per["money"], per["per"].strip()) if per else (after, "")
    before_is, after_is = currency_of(before) if before else "", currency_of(money) if money.strip() else ""
    if before_is is None or after_is is None or (before_is and after_is and before_is != after_is):
        return Written(fault=_unread(text, before, after))
    return Written(number, dash_mark or telling_mark(number), before_is or after_is, what_for)


def _unread(text: str, before: str, after: str) -> str:
    if "%" in text:
        return f"{shown(text)} is a percentage, not an amount: give the price itself."
    if before[:1] in ("-", "\u2212", "\u2013", "(") or after[-1:] in ("-", ")") or before[-1:] in ("-", "\u2212"):
        return f"{shown(text)} is below zero: a price is zero or more."
    if re.match(r"[eE][+-]?[0-9]", after):
        return f"{shown(text)} has an exponent: write the amount out."
    return _no_amount(text)


def _no_amount(text: str) -> str:
    return f"{shown(text)} is no amount: write it as in 14.20 or 14,20, its currency beside it or in its own column."


def _why_not(text: str, written: Written, mark: str) -> str:
    if has_too_many_digits(written.number, mark):
        return (f"{shown(text)} has too many digits: at most {MOST_WHOLE_DIGITS} stand before the decimal mark and "
                f"{MOST_DECIMALS} after it.")
    names = {".": "point", ",": "comma"}
    return (f"{shown(text)} does not read with a decimal {names[mark]}, as the other amounts of its column do: write "
            "it like them.")
