"""Words as they are compared: without case, accents and punctuation, so that "Stück", "STUECK." and "stuck" may meet.

Source: Unicode Standard Annex 15, for the decomposition that parts a letter from its accent.
"""

from functools import lru_cache
from unicodedata import combining, normalize

_LETTERS = str.maketrans({"ø": "o", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i",
                          "’": "'", "×": "x", "\u2212": "-", "\u2013": "-", "\u2014": "-"})


@lru_cache(maxsize=2048)
def plain(text: str) -> str:
    """Text in small letters without accents; punctuation stays.

    Example: "Prix/Kg (À l'unité)" is "prix/kg (a l'unite)".
    """
    apart = normalize("NFKD", text)
    return "".join(each for each in apart if not combining(each)).casefold().translate(_LETTERS)


@lru_cache(maxsize=2048)
def folded(text: str) -> str:
    """Text as words: letters and digits in small letters without accents, one blank between them.

    Example: "Artikel-Nr." is "artikel nr".
    """
    return " ".join("".join(each if each.isalnum() else " " for each in plain(text)).split())
