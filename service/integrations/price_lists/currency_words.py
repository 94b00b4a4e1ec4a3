"""Currencies as they stand beside an amount: codes, signs and words.

A sign that several currencies share says which only when something else does: alone it stays unsaid, never guessed.

Source: ISO 4217 for the codes (service/domain/currency.py); the Unicode block Currency Symbols and common use for the
        signs, from memory.
"""

from collections.abc import Mapping

from service.domain.currency import MINOR_UNITS
from service.integrations.price_lists.folding import folded

SIGNS: Mapping[str, str] = {
    "€": "EUR", "£": "GBP", "₹": "INR", "₺": "TRY", "₽": "RUB", "₩": "KRW", "₪": "ILS", "₴": "UAH", "₫": "VND",
    "฿": "THB", "₱": "PHP", "₦": "NGN", "R$": "BRL", "US$": "USD", "C$": "CAD", "CA$": "CAD", "A$": "AUD", "AU$": "AUD",
    "NZ$": "NZD", "HK$": "HKD", "S$": "SGD", "zł": "PLN", "Kč": "CZK", "Ft": "HUF", "SFr": "CHF", "SFr.": "CHF",
}
SHARED_SIGNS = frozenset(("$", "¥", "kr", "kr.", "Kr", "Kr.", "Fr", "Fr.", "Rs", "Rs."))
"""Dollars, yen and yuan, crowns, francs, rupees: of several countries each."""
_LONGEST = 40
_WORDS: Mapping[str, str] = {
    "euro": "EUR", "euros": "EUR", "eur": "EUR", "gbp": "GBP", "usd": "USD", "chf": "CHF", "dkk": "DKK", "sek": "SEK",
    "nok": "NOK", "pound sterling": "GBP", "pounds sterling": "GBP", "sterling": "GBP", "swiss francs": "CHF",
    "schweizer franken": "CHF", "us dollar": "USD", "us dollars": "USD",
}


def currency_of(text: str) -> str | None:
    """The ISO 4217 code that a code, sign or word stands for; empty for a sign that several share; None: no currency.

    Example: "€" and "EUR" are "EUR", "$" is "", "kg" is None.
    """
    text = text.strip()
    if text in MINOR_UNITS:
        return text
    if text in SHARED_SIGNS:
        return ""
    return SIGNS.get(text) or (_WORDS.get(folded(text)) if len(text) <= _LONGEST else None)
