"""Days as text: 2026-12-01, 01.12.2026, 1/12/2026, 1 December 2026, 1. Dez. 26.

Rules that always hold: whether day or month stands first is told once for a column, from days above the twelfth; where
nothing tells, a day that reads both ways is a fault. A year of two digits is of this century.

Source: ISO 8601-1 for the first form; CLDR's date patterns: no locale that parts a date by points has the month first.
"""

import re
from collections.abc import Iterable
from datetime import date

from service.integrations.price_lists.folding import plain

_ISO = re.compile(r"^([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})(?:[T ]00:00(?::00(?:\.0+)?)?)?$")
_NUMBERS = re.compile(r"^([0-9]{1,2})\s?([./-])\s?([0-9]{1,2})\s?\2\s?([0-9]{4}|[0-9]{2})(?:[T ]00:00(?::00)?)?$")
_DAY_MONTH = re.compile(r"^([0-9]{1,2})(?:st|nd|rd|th|er|\.)?(?:\s+|-)(?:de\s+)?([a-z]+)\.?,?(?:\s+|-)(?:de\s+|del\s+)?"
                        r"([0-9]{4}|[0-9]{2})$")
_MONTH_DAY = re.compile(r"^([a-z]+)\.?\s+([0-9]{1,2})(?:st|nd|rd|th)?,?\s+([0-9]{4})$")
_MONTHS = (
    "jan january januar janvier enero gennaio januari janeiro ene gen janv",
    "feb february februar fevrier febrero febbraio februari fevereiro fev fevr",
    "mar march marz maerz mars marzo maart marco mrz mrt",
    "apr april avril abril aprile avr abr",
    "may mai mayo maggio mei maio maj mag",
    "jun june juni juin junio giugno junho giu",
    "jul july juli juillet julio luglio julho lug juil",
    "aug august aout agosto augustus augusti ago",
    "sep sept september septembre septiembre settembre setembro set",
    "oct october oktober octobre octubre ottobre outubro okt ott out",
    "nov november novembre noviembre novembro",
    "dec december dezember decembre diciembre dicembre dezembro desember dez dic des",
)
_MONTH_OF = {word: number for number, words in enumerate(_MONTHS, 1) for word in words.split()}
LONGEST = 40


def read_days(texts: Iterable[str], day_first: bool | None) -> dict[str, date | None]:
    """The day that each text says; None: none, or not for sure.

    Shape:   `day_first` is what is known from elsewhere, for a column that does not tell by itself; None: nothing is.
    """
    texts = list(texts)
    told = {_tells(text) for text in texts} - {None}
    if len(told) == 1:
        day_first = told.pop()
    elif told:
        day_first = None
    return {text: _day(text, day_first) for text in texts}


def day_in(text: str, day_first: bool | None = None) -> date | None:
    """The day that one text says by itself; None: none, or not for sure."""
    return read_days((text,), day_first)[text]


def _tells(text: str) -> bool | None:
    """Whether a date with the day first (True) or the month first (False) stands there; None: it does not tell."""
    found = _NUMBERS.match(text) if len(text) <= LONGEST else None
    if found is None:
        return None
    first, parted_by, second, _ = found.groups()
    if parted_by == ".":
        return None
    if int(first) > 12 >= int(second):
        return True
    return False if int(second) > 12 >= int(first) else None


def _day(text: str, day_first: bool | None) -> date | None:
    text = text.strip()
    if len(text) > LONGEST:
        return None
    if found := _ISO.match(text):
        return _made(found[1], found[2], found[3])
    if found := _NUMBERS.match(text):
        first, parted_by, second, year = found.groups()
        return _of_two(first, second, year, True if parted_by == "." else day_first)
    return _with_month_s_name(plain(text))


def _of_two(first: str, second: str, year: str, day_first: bool | None) -> date | None:
    if day_first is None:
        if int(first) <= 12 and int(second) <= 12 and int(first) != int(second):
            return None
        day_first = int(second) <= 12
    return _made(year, second, first) if day_first else _made(year, first, second)


def _with_month_s_name(text: str) -> date | None:
    if found := _DAY_MONTH.match(text):
        day, month, year = found.groups()
    elif found := _MONTH_DAY.match(text):
        month, day, year = found.groups()
    else:
        return None
    return _made(year, str(_MONTH_OF.get(month, 0)), day)


def _made(year: str, month: str, day: str) -> date | None:
    try:
        return date(int(year) + (2000 if len(year) == 2 else 0), int(month), int(day))
    except ValueError:
        return None
