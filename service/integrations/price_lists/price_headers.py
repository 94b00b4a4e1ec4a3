"""What the header of a column of prices says: that it is one, how good a one, in which currency, and for what.

Example: "Preis netto (EUR/kg)" is what is to be paid, in EUR, per kg; "Price incl. VAT" and "RRP" are no price here.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from service.integrations.price_lists.currency_words import SHARED_SIGNS, SIGNS, currency_of
from service.integrations.price_lists.folding import folded, plain
from service.integrations.price_lists.header_words import SMALL_WORDS
from service.integrations.price_lists.pack_texts import read_per
from service.integrations.price_lists.price_header_words import (
    BETTER,
    COMPOUNDS,
    KILO_PRICES,
    LESSER,
    LIST_TITLES,
    NOT_THE_PRICE,
    PLAIN_PRICES,
    TAX_WORDS,
)
from service.integrations.price_lists.word_lists import listed

_PER = re.compile(r"(?:/|\b(?:per|pro|par|por|je|pr|al|au|le|a la|a l')(?![a-z])\.?)\s*([^()\[\]/,;]+)")
_DAY = re.compile(r"(?:\b(?:valid )?(?:from|ab|des le|des|desde|dal|vanaf|fra|fran)\s+)?"
                  r"(?:\b[0-9]{1,2}[./-][0-9]{1,2}[./-](?:[0-9]{4}|[0-9]{2})\b|\b20[0-9]{2}(?:-[0-9]{2}-[0-9]{2})?\b)")
_CODE = re.compile(r"\b[A-Z]{3}\b")
_ANY_UNIT = frozenset(listed("""
    unit|einheit|unite|unidad|unita|eenheid|unidade|enhed|enhet|uom|me|item|article|artikel|sales unit|verkaufseinheit
"""))
"""Say that the price is for what another column names."""


@dataclass(frozen=True, slots=True)
class PriceHeader:
    """A column of prices: the greater `rank`, the rather; `per` is the text of what it is for, empty when unsaid."""

    rank: int
    currency: str = ""
    per: str = ""


@lru_cache(maxsize=1024)
def price_header(header: str) -> PriceHeader | None:
    """What a header says of its prices; None: it heads something else."""
    currency, found_money = _currency(header)
    per, rest = _per(header)
    words = [word for word in _words(rest) if word.upper() != currency]
    if NOT_THE_PRICE.intersection(words) or " ".join(words) in LIST_TITLES:
        return None
    rank = 1 + bool(BETTER.intersection(words)) - bool(LESSER.intersection(words))
    said = " ".join(word for word in words if word not in BETTER and word not in LESSER)
    if said in KILO_PRICES:
        return PriceHeader(rank, currency, per or "kg")
    if said in PLAIN_PRICES or (found_money and not said):
        return PriceHeader(rank, currency, per)
    return None


def _words(text: str) -> list[str]:
    whole = [COMPOUNDS.get(word, word) for word in folded(text).split()]
    return [word for word in " ".join(whole).split() if word not in SMALL_WORDS and word not in TAX_WORDS]


def _currency(header: str) -> tuple[str, bool]:
    """The currency that a header names, and whether it names any (a sign that several share is one, unsaid)."""
    codes = {code for code in _CODE.findall(header) if currency_of(code)}
    signs = {SIGNS[sign] for sign in SIGNS if not sign.isalpha() and sign in header}
    found = codes or signs
    shared = any(sign in header for sign in SHARED_SIGNS if not sign[0].isalpha())
    return (next(iter(found)) if len(found) == 1 else ""), bool(codes or signs or shared)


def _per(header: str) -> tuple[str, str]:
    """The text of what a price is for, and the header without it."""
    text = _DAY.sub(" ", plain(header))
    found = _PER.search(text)
    if found is None:
        return "", text
    unit, rest = found[1].strip(" ."), f"{text[:found.start()]} {text[found.end():]}"
    if folded(unit) in _ANY_UNIT:
        return "", rest
    return (unit, rest) if read_per(unit, ".") is not None else ("", text)
