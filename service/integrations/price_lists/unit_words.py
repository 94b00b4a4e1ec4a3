"""Units and packages in the words and codes that suppliers use, each as so much of one of our units.

A word that stands for different amounts in different places (a pint, a gallon, a fluid ounce, a pound of 500 g, "ton"
in English) is not here: a unit is never guessed.

Source: UN/ECE Recommendations 20 (revision 11e) and 21 (revision 9e), in the code lists of the Peppol BIS Billing 3.0;
        codes after M82 of the first from memory. Words of other languages from memory.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from service.domain.quantity import UNITS, unit_of_code
from service.domain.supplier_item import PACK
from service.integrations.price_lists.folding import folded
from service.integrations.price_lists.package_words import PACKAGE_CODES, PACKAGE_WORDS


@dataclass(frozen=True, slots=True)
class Measure:
    """So much of one of our units: `unit` is a name in UNITS, or "pack"; `package` names what kind of package it is."""

    quantity: Decimal
    unit: str
    package: str = ""


_CODES = {
    "E4": "1 kg", "58": "1 kg", "KDW": "1 kg", "HGM": "100 g", "DJ": "10 g", "DG": "0.1 g", "CGM": "0.01 g",
    "MGM": "0.001 g", "DTN": "100 kg", "HKM": "100 kg", "TNE": "1000 kg", "2U": "1000 kg", "KTN": "1000000 kg",
    "CWA": "100 lb", "CNT": "100 lb", "CWI": "112 lb", "STI": "14 lb", "STN": "2000 lb", "LTN": "2240 lb",
    "CLT": "10 ml", "DLT": "100 ml", "CMQ": "1 ml", "DMQ": "1 l", "A44": "10 l", "HLT": "100 l", "K6": "1000 l",
    "MTQ": "1000 l", "4G": "0.001 ml",
    "PR": "2 each", "CEN": "100 each", "HC": "100 each", "MIL": "1000 each", "GRO": "144 each", "DPC": "1 dozen",
    "NAR": "1 each", "NPR": "2 each", "NPT": "1 each", "NMP": "1 pack", "XPP": "1 each", "XNF": "1 each",
}
"""Codes of Recommendation 20 (and two of 21) that are so much of a unit here. Those that are one are in `quantity`."""

_WORDS = {
    "1 kg": """
        kg kgs kilo kilos kilogram kilograms kilogramm kilogramme kilogrammes kilogramo kilogramos chilo chili
        chilogrammo chilogrammi quilo quilos quilograma quilogramas kilogrammo kgr
        """,
    "1 g": "g gr grs gram grams gramm gramme grammes gramo gramos grammo grammi grama gramas",
    "100 g": "hg hecto hekto etto etti hectogram hectogramme hektogram",
    "1000 kg": "t tonne tonnes tonelada toneladas tonnellata tonnellate",
    "100 kg": "quintal quintaux quintale quintali doppelzentner",
    "1 lb": "lb lbs",
    "1 oz": "oz",
    "1 l": "l lt ltr ltrs liter liters litre litres litro litros litri",
    "1 ml": "ml milliliter milliliters millilitre millilitres mililitro mililitros millilitro millilitri cc",
    "10 ml": "cl centiliter centilitre centilitro centilitri",
    "100 ml": "dl deciliter decilitre decilitro",
    "100 l": "hl hektoliter hectolitre hectoliter hectolitro",
    "1 each": """
        each ea pc pcs pce pces piece pieces unit units item items st stk stck stuck stueck stucke stuecke unite
        unites u ud uds und unds unid unids unidad unidades pieza piezas pza pzas uni pz pezzo pezzi cad cadauno
        unita stuk stuks un unidade peca pecas styk stykk stykke stykker styck stycken enhed enhet
        """,
    "2 each": "pair pairs paar paire paires par pares paio paia",
    "1 dozen": """
        doz dozen dozens dutzend dtzd douzaine douzaines docena docenas dozzina dozzine dozijn duzia duzias dusin
        dussin tylft
        """,
    "100 each": "hundred hundert ciento cento honderd",
    "1000 each": "thousand tausend mille",
}


def measure_of_code(code: str) -> Measure | None:
    """What a UN/ECE Recommendation 20 or 21 code stands for; None: nothing that is measured here.

    Example: KGM is 1 kg, DTN 100 kg, CLT 10 ml, XCS 1 pack (a case).
    """
    unit = unit_of_code(code)
    if unit is not None:
        return Measure(Decimal(1), unit.name)
    return _BY_CODE.get(code)


def measure_of_word(word: str) -> Measure | None:
    """What a word, one of our own unit names, or a code stands for; None: not known.

    Example: "Stück" is 1 each, "Kiste" 1 pack (a crate), "us_cup" 1 us_cup.
    """
    word = word.strip()
    if word in UNITS or word == PACK:
        return Measure(Decimal(1), word)
    return _BY_WORD.get(folded(word)) or (None if word.isdigit() else measure_of_code(word))


def _measure(text: str) -> Measure:
    quantity, unit = text.split()
    return Measure(Decimal(quantity), unit)


_BY_CODE: Mapping[str, Measure] = {
    **{code: Measure(Decimal(1), PACK, package) for code, package in PACKAGE_CODES.items()},
    **{code: _measure(text) for code, text in _CODES.items()},
}
_BY_WORD: Mapping[str, Measure] = {
    **{word: Measure(Decimal(1), PACK, package) for word, package in PACKAGE_WORDS.items()},
    **{word: _measure(text) for text, words in _WORDS.items() for word in words.split()},
}
