"""What a price is for, and what a pack holds, as people write them: "per 100 g", "Stück", "case of 2 x 5 kg".

Rules that always hold: all of a text is understood, or nothing of it is; a word that is not known, a range ("10-12 kg")
or numbers that nothing joins leave it unread.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from service.domain.supplier_item import PACK, Pack
from service.integrations.price_lists.currency_words import currency_of
from service.integrations.price_lists.folding import plain
from service.integrations.price_lists.unit_words import Measure, measure_of_word
from service.integrations.price_lists.word_lists import listed
from service.integrations.price_lists.written_numbers import telling_mark, value_of

_WORDS = re.compile(r"[0-9]+(?:[.,][0-9]+)*|[a-z_]+|[^\sa-z0-9]")
_LONGEST = 120
_FILLERS = frozenset((*listed("""
    of de d a di da do mit met med con avec com je zu the er ca approx env circa about each av af van von par per
    net netto nett neto
"""), *"()[].,:~='\u2248"))
_TIMES = frozenset(("x", "*"))
_PER = re.compile(r"^(?:(?:per|pro|par|por|je|pr|al|au|il|le|a|\u00e0|la)\b\.?\s*)+", re.IGNORECASE)
_ONE = Decimal(1)


@dataclass(frozen=True, slots=True)
class PricedPer:
    """What a price is for: `quantity` of `unit` (a unit's name or "pack"), and the pack where the text says one."""

    quantity: Decimal
    unit: str
    pack: Pack | None = None


@dataclass(slots=True)
class _Said:
    """What the words of a pack come to, while they are read."""

    name: str = ""
    numbers: list[Decimal] = field(default_factory=list)
    joined: bool = True
    measure: Measure | None = None
    measured: int = 0
    inner: str = ""


def read_pack(text: str, mark: str, measure: Measure | None = None) -> Pack | None:
    """The pack that a text describes; None: it does not, or not in words that are known.

    Shape:   `mark` is the decimal mark of the table; `measure` is what a bare number is of, if another column says so.
    Example: "2 x 5 kg" holds two of 5 kg, "Karton 6x1,5 L" six of 1.5 l, "12 Stk" is 12 each, "case of 12" too.
    """
    said = _said(text, mark)
    if said is None or not said.numbers or min(said.numbers) <= 0:
        return None
    of = said.measure or _of_bare_number(said, measure)
    if of is None:
        return None
    numbers = list(said.numbers)
    quantity = numbers.pop(said.measured if said.measure else -1)
    count = _ONE
    for number in numbers:
        count *= number
    return Pack(said.name or said.inner or PACK, count, quantity * of.quantity, of.unit)


def read_per(text: str, mark: str) -> PricedPer | None:
    """What a price is for; None: not known.

    Example: "kg" and "EUR/kg" are per 1 kg, "per 100 g" per 100 g, "Kiste" per pack, "2 x 5 kg" per such a pack.
    """
    if len(text) > _LONGEST:
        return None
    bare = _without_per(text)
    measure = measure_of_word(text) or measure_of_word(bare)
    if measure is not None:
        return PricedPer(measure.quantity, measure.unit)
    said = _said(bare, mark)
    if said is None or not said.numbers:
        return None
    pack = read_pack(bare, mark)
    if pack is None:
        return None
    if len(said.numbers) == 1 and not said.name and not said.inner:
        return PricedPer(pack.quantity, pack.unit)
    return PricedPer(_ONE, PACK, pack)


def package_in(text: str) -> str:
    """The kind of package that a text names by itself: "case" for "Kasten"; empty: none."""
    if len(text) > _LONGEST:
        return ""
    measure = measure_of_word(text) or measure_of_word(_without_per(text))
    return measure.package if measure else ""


def pack_in_words(pack: Pack) -> str:
    """A pack as `read_pack` reads it back, with any decimal mark.

    Example: Pack("case", 2, 5, "kg") is "case 2 x 5 kg". Three decimals get a fourth, lest they look like thousands.
    """
    words = f"{_in_digits(pack.count)} x {_in_digits(pack.quantity)} {pack.unit}"
    named = f"{pack.name} {words}"
    return named if read_pack(named, ".") == pack else words


def _without_per(text: str) -> str:
    """A unit without what comes before it: "per kg", "pro kg" and "EUR/kg" are "kg"."""
    money, slash, unit = text.partition("/")
    if slash and (not money.strip() or currency_of(money) is not None):
        text = unit
    return _PER.sub("", text.strip()).strip(" .")


def _said(text: str, mark: str) -> _Said | None:
    words = _WORDS.findall(plain(text)) if len(text) <= _LONGEST else []
    said = _Said()
    for place, word in enumerate(words):
        if word in _TIMES:
            said.joined = True
        elif word[0].isdigit():
            if not _takes_number(said, word, mark):
                return None
        elif not (_takes_word(said, word) or word in _FILLERS or _is_hyphen(words, place)):
            return None
    return said if words else None


def _takes_number(said: _Said, word: str, mark: str) -> bool:
    number = value_of(word, telling_mark(word) or mark)
    if number is None or not said.joined:
        return False
    said.numbers.append(number)
    said.joined = False
    return True


def _takes_word(said: _Said, word: str) -> bool:
    """Whether a word is a unit or a package; it is noted."""
    measure = None if word in _FILLERS and word != "each" else measure_of_word(word)
    if measure is None:
        return False
    if measure.unit == PACK:
        if not said.numbers or (said.numbers == [_ONE] and not said.name):
            said.name = said.name or measure.package or word
        else:
            said.inner = said.inner or measure.package or word
        said.joined = True
        return True
    if said.measure is not None or not said.numbers or said.joined:
        return False
    said.measure, said.measured = measure, len(said.numbers) - 1
    return True


def _of_bare_number(said: _Said, measure: Measure | None) -> Measure | None:
    """What the numbers are of when no unit stands with them: what another column says, else pieces in a package."""
    if measure is not None and measure.unit not in (PACK, "each", "dozen"):
        return measure
    in_a_package = said.name or said.inner or (measure is not None and measure.unit == PACK)
    return Measure(_ONE, "each") if in_a_package else None


def _is_hyphen(words: Sequence[str], place: int) -> bool:
    """A dash that is no sign, being the first, and no range, being between two numbers."""
    near = words[max(place - 1, 0):place + 2]
    return words[place] == "-" and place > 0 and sum(each[0].isdigit() for each in near) < 2


def _in_digits(number: Decimal) -> str:
    digits = format(number, "f")
    if "." in digits:
        digits = digits.rstrip("0").rstrip(".")
    return digits + "0" if len(digits.partition(".")[2]) == 3 else digits
