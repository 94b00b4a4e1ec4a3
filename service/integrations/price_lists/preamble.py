"""What the rows before the header say of the whole list: its number, its currency, its date, from when it holds.

Only what is plain is taken: a label that is known, and its value beside it or after a colon. All else is ignored.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from service.integrations.price_lists.cells import Cell, texts
from service.integrations.price_lists.currency_words import currency_of
from service.integrations.price_lists.date_texts import day_in
from service.integrations.price_lists.folding import folded
from service.integrations.price_lists.header_words import MEANING_OF, SMALL_WORDS

_LABELS = {
    "reference": "price list|pricelist|price list no|price list number|list|list no|reference|ref|preisliste|"
                 "preisliste nr|liste|liste prix|tarif|tarif no|lista precios|listino|listino prezzi|prijslijst|"
                 "prislista|prisliste|"
                 "tabela precos|offer|offer no|quote|quotation|angebot|angebot nr|offre|oferta|offerta|aanbod",
    "supplier": "supplier|supplier name|lieferant|fournisseur|proveedor|fornitore|leverancier|fornecedor|leverandor|"
                "leverantor",
    "issued": "date|issued|issue date|issued on|list date|datum|stand|ausgabedatum|date liste|fecha|data|dato|udgivet|"
              "utgiven|utgitt|edition",
    "currency": "prices in|all prices in|preise in|alle preise in|prix en|tous prix en|precios en|prezzi in|prijzen in|"
                "precos em|priser i|alla priser i|alle priser i",
}
_MEANING_OF = {word: meaning for meaning, words in _LABELS.items() for word in words.split("|")} | {
    word: meaning for word, meaning in MEANING_OF.items() if meaning in ("currency", "starts", "ends")}
_LONGEST_VALUE = 120
_LONGEST_LABEL_WORDS = 4


@dataclass(frozen=True, slots=True)
class Preamble:
    """What stands before the header; empty or None where nothing plain does."""

    reference: str = ""
    supplier: str = ""
    currency: str = ""
    issued: date | None = None
    starts: date | None = None
    ends: date | None = None


def read_preamble(rows: Sequence[Sequence[Cell]]) -> Preamble:
    """What the rows before the header say; where a label stands twice, the first counts."""
    said: dict[str, str | date] = {}
    for cells in rows:
        for meaning, value in _labelled(cells):
            understood = _understood(meaning, value)
            if understood:
                said.setdefault(meaning, understood)
    return Preamble(**said)  # type: ignore[arg-type]


def _labelled(cells: Sequence[Cell]) -> Iterator[tuple[str, str | date]]:
    """Labels with their values: "Currency: EUR", "Valid from" beside a date, "Prices in EUR"."""
    shown = texts(cells)
    for place, text in enumerate(shown):
        if not text or len(text) > _LONGEST_VALUE:
            continue
        label, colon, value = text.partition(":")
        meaning = _meaning(label)
        if meaning and value.strip():
            yield meaning, value.strip()
        elif meaning and (beside := _beside(cells, shown, place)) is not None:
            yield meaning, beside
        elif not colon:
            yield from _led_by_a_label(text)


def _beside(cells: Sequence[Cell], shown: Sequence[str], place: int) -> str | date | None:
    """The next filled cell of the row."""
    for cell, text in list(zip(cells, shown, strict=True))[place + 1:]:
        if text:
            return cell if isinstance(cell, date) else text
    return None


def _led_by_a_label(text: str) -> Iterator[tuple[str, str]]:
    """A label and its value in one cell without a colon; for days and currencies, which tell themselves."""
    words = text.split()
    for length in range(min(_LONGEST_LABEL_WORDS, len(words) - 1), 0, -1):
        meaning = _meaning(" ".join(words[:length]))
        if meaning in ("starts", "ends", "issued", "currency"):
            yield meaning, " ".join(words[length:])
            return


def _meaning(label: str) -> str:
    return _MEANING_OF.get(" ".join(word for word in folded(label).split() if word not in SMALL_WORDS), "")


def _understood(meaning: str, value: str | date) -> str | date | None:
    if meaning in ("issued", "starts", "ends"):
        return value if isinstance(value, date) else day_in(value)
    if isinstance(value, date):
        return None
    return currency_of(value) if meaning == "currency" else value
