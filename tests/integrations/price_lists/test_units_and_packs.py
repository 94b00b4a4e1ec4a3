"""Units, packages and packs, in codes and in words.

Source: UN/ECE Recommendation 20, revision 11e, and 21, revision 9e, as published with the Peppol BIS Billing 3.0 (code
lists UNECERec20-11e and UNECERec21-9e): code and name were read there, but for those marked "from memory". What each
name stands for is judged by the `pint` library, whose definitions are not ours.
"""

from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.quantity import UNITS, base_unit_of
from service.domain.supplier_item import Pack
from service.integrations.price_lists.pack_texts import PricedPer, pack_in_words, package_in, read_pack, read_per
from service.integrations.price_lists.unit_words import Measure, measure_of_code, measure_of_word
from tests.integrations.price_lists.tables import a_row, said

MEASURED_CODES = {
    "KGM": "kilogram", "HGM": "hectogram", "DJ": "decagram", "DG": "decigram", "CGM": "centigram", "58": "kilogram",
    "E4": "kilogram", "KDW": "kilogram", "HKM": "100 kilogram", "2U": "megagram", "KTN": "kilotonne",
    "CWA": "US_hundredweight", "CNT": "US_hundredweight", "CWI": "UK_hundredweight", "LTN": "long_ton",
    "CLT": "centiliter", "DLT": "deciliter", "CMQ": "centimeter**3", "DMQ": "decimeter**3", "A44": "decaliter",
    "HLT": "hectoliter", "K6": "kiloliter", "4G": "microliter", "LTR": "liter", "G21": "cup", "G24": "tablespoon",
    "G25": "teaspoon",
    # Behind M82 in the list, which was not at hand: from memory.
    "GRM": "gram", "MGM": "milligram", "DTN": "decitonne", "TNE": "tonne", "LBR": "pound", "ONZ": "ounce",
    "STI": "stone",
    "STN": "short_ton", "MLT": "milliliter", "MTQ": "meter**3", "GLL": "US_liquid_gallon", "QTL": "US_liquid_quart",
    "PTL": "US_pint", "OZA": "US_fluid_ounce", "GLI": "imperial_gallon", "OZI": "imperial_fluid_ounce",
}
COUNTED_CODES = {
    "EA": 1, "CEN": 100, "HC": 100, "DPC": 12,
    # From memory.
    "C62": 1, "H87": 1, "DZN": 12, "PR": 2, "MIL": 1000, "GRO": 144, "NAR": 1, "NPR": 2, "PTN": 1, "XPP": 1,
}
PACKAGES = {"XBX": "box", "XCT": "carton", "XCS": "case", "XPK": "pack", "XBG": "bag", "XSA": "sack", "XCR": "crate",
            "XBO": "bottle", "XJR": "jar", "XPU": "tray", "XBJ": "bucket", "XTB": "tub", "XKG": "keg", "XPX": "pallet",
            "XRO": "roll", "XNT": "mesh", "XBH": "bunch", "XCX": "can", "XBK": "basket", "XDR": "drum"}


@pytest.fixture(scope="module")
def judge() -> pint.UnitRegistry:
    registry = pint.UnitRegistry(non_int_type=Fraction)
    registry.define("decitonne = 100 * kilogram")
    return registry


def in_base_units(measure: Measure) -> Fraction:
    return Fraction(measure.quantity) * UNITS[measure.unit].factor


@pytest.mark.parametrize("code", MEASURED_CODES)
def test_a_code_is_as_much_as_its_name_says(code: str, judge: pint.UnitRegistry) -> None:
    measure = measure_of_code(code)
    assert measure is not None
    base = {"kg": "kilogram", "l": "liter"}[base_unit_of(measure.unit)]
    assert in_base_units(measure) == judge.Quantity(MEASURED_CODES[code]).to(base).magnitude


@pytest.mark.parametrize("code", COUNTED_CODES)
def test_a_code_of_count_is_so_many(code: str) -> None:
    measure = measure_of_code(code)
    assert measure is not None
    assert base_unit_of(measure.unit) == "each"
    assert in_base_units(measure) == COUNTED_CODES[code]


@pytest.mark.parametrize("code", PACKAGES)
def test_a_code_of_a_package_is_one_pack(code: str) -> None:
    assert measure_of_code(code) == Measure(Decimal(1), "pack", PACKAGES[code])


@pytest.mark.parametrize("code", ["MTR", "KWH", "HUR", "P1", "XNA", "kgm", "", "ZZ", "KG"])
def test_a_code_of_something_else_is_nothing(code: str) -> None:
    assert measure_of_code(code) is None


def test_a_number_is_no_unit_although_it_is_a_code() -> None:
    assert measure_of_code("58") is not None
    assert measure_of_word("58") is None


WORDS = {
    "kg": "kg Kilo kilogramme Kilogramm kilogramo chilogrammo quilograma kgs. KGM",
    "g": "g gr. Gramm gramme gramos grammi gramas GRM",
    "l": "l L Ltr. Liter litre litro litri liters LTR",
    "ml": "ml Milliliter millilitre",
    "each": "each Stk. Stück STUECK St pce pièce unité pieza ud. pezzo pz stuks unidade stk stykker styck H87",
    "dozen": "dozen Dutzend douzaine docena dozzina dozijn d\u00fazia dusin DZN",
    "lb": "lb lbs LBR", "oz": "oz ONZ",
    "pack": "pack Packung paquet paquete confezione verpakking embalagem pakke f\u00f6rpackning Gebinde colis",
}
KINDS = {
    "case": "case", "crate": "Kiste caisse cassa krat kasse", "box": "box bo\u00eete caja scatola doos caixa",
    "carton": "Karton carton cartone kartong", "bag": "Beutel sachet bolsa busta zak pose",
    "bucket": "Eimer seau cubo emmer",
    "bottle": "Flasche bouteille botella bottiglia fles garrafa flaske flaska",
    "can": "Dose canette lata lattina blik burk",
    "sack": "Sack sac saco sacco s\u00e6k", "tray": "Schale barquette bandeja vaschetta schaal bakke tr\u00e5g",
    "bunch": "Bund botte manojo mazzo bos molho bundt knippe",
}


@pytest.mark.parametrize(("unit", "word"), [(unit, word) for unit, words in WORDS.items() for word in words.split()])
def test_a_word_for_a_unit(unit: str, word: str) -> None:
    assert read_per(word, ".") == PricedPer(Decimal(1), unit)


@pytest.mark.parametrize(("kind", "word"), [(kind, word) for kind, words in KINDS.items() for word in words.split()])
def test_a_word_for_a_package(kind: str, word: str) -> None:
    assert read_per(word, ".") == PricedPer(Decimal(1), "pack")
    assert package_in(word) == kind


@pytest.mark.parametrize("word", ["pint", "gallon", "fl oz", "Pfund", "ton", "cup", "dz", "ct", "portion?", "12", ""])
def test_a_word_that_says_different_things_is_never_guessed(word: str) -> None:
    assert read_per(word, ".") is None


@pytest.mark.parametrize(("text", "quantity", "unit"), [
    ("per kg", "1", "kg"), ("pro Stk.", "1", "each"), ("EUR/kg", "1", "kg"), ("\u20ac/l", "1", "l"), ("/kg", "1", "kg"),
    ("par kilo", "1", "kg"), ("por kg", "1", "kg"), ("al kg", "1", "kg"), ("pr. stk", "1", "each"),
    ("à la pièce", "1", "each"),
    ("per 100 g", "100", "g"), ("100g", "100", "g"), ("1.000 Stk", "1000", "each"), ("HGM", "100", "g"),
    ("DTN", "100", "kg"), ("t", "1000", "kg"), ("cl", "10", "ml"), ("2 dl", "200", "ml"), ("hg", "100", "g"),
    ("par", "2", "each"), ("us_cup", "1", "us_cup"), ("10 kg", "10", "kg"),
])
def test_what_a_price_is_for(text: str, quantity: str, unit: str) -> None:
    assert read_per(text, ",") == PricedPer(Decimal(quantity), unit)


@pytest.mark.parametrize(("text", "pack"), [
    ("2 x 5 kg", "pack 2 5 kg"), ("2x5kg", "pack 2 5 kg"), ("2 \u00d7 5 kg", "pack 2 5 kg"), ("2*5 kg", "pack 2 5 kg"),
    ("6x1,5 L", "pack 6 1.5 l"), ("6 x 1.5 l", "pack 6 1.5 l"), ("case 2x5kg", "case 2 5 kg"), ("10kg", "pack 1 10 kg"),
    ("12 stk", "pack 1 12 each"), ("Kiste 8 kg", "crate 1 8 kg"), ("8 kg Kiste", "crate 1 8 kg"),
    ("case of 12", "case 1 12 each"),
    ("1 case = 2 x 5 kg", "case 2 5 kg"), ("2 x 6 x 0,5 l", "pack 12 0.5 l"), ("12 x 33 cl", "pack 12 330 ml"),
    ("6 Flaschen à 0,7 l", "bottle 6 0.7 l"), ("Karton (6 x 1 kg)", "carton 6 1 kg"), ("boîte de 12", "box 1 12 each"),
    ("caja 6 uds", "box 1 6 each"), ("12er Karton", "carton 1 12 each"), ("5 kg x 2", "pack 2 5 kg"),
    ("ca. 2,5 kg", "pack 1 2.5 kg"),
    ("6-pack", "pack 1 6 each"), ("2 dozen", "pack 1 2 dozen"), ("sac 25 kg", "sack 1 25 kg"),
    ("2 x 5 kg bags", "bag 2 5 kg"),
    ("12 each", "pack 1 12 each"), ("2 x 5 kg each", "pack 2 5 kg"),
])
def test_a_pack_as_people_describe_it(text: str, pack: str) -> None:
    name, count, quantity, unit = pack.split()
    assert read_pack(text, ",") == Pack(name, Decimal(count), Decimal(quantity), unit)


@pytest.mark.parametrize("text", [
    "10-12 kg", "2 x kg", "x", "kg", "case", "5", "2 5 kg", "assorted", "5 kg + 1 kg", "0 kg", "2 x 0 kg", "12 fl oz",
    "1/2 kg",
    "12 x 330 ml (24)", "5 kg 2 l", "-5 kg", "", "5 kg;", "2x5 pints", "1234567890123 kg", "5 kg " * 60])
def test_a_pack_is_understood_wholly_or_not_at_all(text: str) -> None:
    assert read_pack(text, ".") is None


def test_a_thousand_in_a_pack_reads_by_the_table_s_mark() -> None:
    assert read_pack("1.000 g", ",") == Pack("pack", Decimal(1), Decimal(1000), "g")
    assert read_pack("1.000 g", ".") == Pack("pack", Decimal(1), Decimal(1), "g")
    assert read_pack("0.250 kg", ",") == Pack("pack", Decimal(1), Decimal("0.250"), "kg")


def test_a_bare_number_is_of_what_the_unit_says() -> None:
    assert read_pack("2x5", ".", Measure(Decimal(1), "kg")) == Pack("pack", Decimal(2), Decimal(5), "kg")
    assert read_pack("12", ".", Measure(Decimal(1), "pack", "case")) == Pack("pack", Decimal(1), Decimal(12), "each")
    assert read_pack("12", ".", Measure(Decimal(1), "each")) is None


def test_the_columns_of_a_row_come_together() -> None:
    row = a_row("Code;Price;Unit;Pack", "1-1;71.00;Kiste;2 x 5 kg")
    assert said(row, "per_unit", "per_unit_text", "pack") == ("pack", "Kiste",
        Pack("crate", Decimal(2), Decimal(5), "kg"))
    row = a_row("Code;Price;Unit", "1-1;71.00;2 x 5 kg")
    assert said(row, "per_unit", "pack") == ("pack", Pack("pack", Decimal(2), Decimal(5), "kg"))
    row = a_row("Code;Price;Pack unit;Pack quantity;Units per case", "1-1;71.00;kg;2.5;4")
    assert row.pack == Pack("pack", Decimal(4), Decimal("2.5"), "kg")


def test_what_the_price_s_own_header_says_goes_before_the_column_of_units() -> None:
    assert said(a_row("Code;Price per 100 g;Unit", "1-1;0.45;case"), "per_quantity", "per_unit", "per_unit_text") == (
        100, "g", "100 g")
    assert said(a_row("Code;Price per unit;Unit", "1-1;0.45;kg"), "per_quantity", "per_unit") == (1, "kg")


def test_an_unknown_unit_is_kept_as_it_stands() -> None:
    assert said(a_row("Code;Price;Unit", "1-1;0.45;Scheffel"), "per_unit", "per_unit_text", "faults") == (None,
        "Scheffel", ())


def test_a_pack_that_cannot_be_read_is_a_fault_only_where_the_price_needs_it() -> None:
    assert a_row("Code;Price;Unit;Pack", "1-1;4.50;kg;10-12 kg").faults == ()
    assert a_row("Code;Price;Unit;Pack", "1-1;4.50;case;vacuum").faults == ()
    assert [each.column for each in a_row("Code;Price;Unit;Pack", "1-1;4.50;case;10-12 kg").faults] == ["Pack"]


COUNTS = st.decimals(min_value=1, max_value=9999, places=0)
QUANTITIES = st.decimals(min_value=Decimal("0.001"), max_value=9999, places=3)
NAMES = st.one_of(st.sampled_from(sorted({*PACKAGES.values(), "pack"})), st.text(max_size=12))


@given(pack=st.builds(Pack, NAMES, COUNTS, QUANTITIES, st.sampled_from(sorted(UNITS))), mark=st.sampled_from(".,"))
def test_any_pack_in_words_reads_back(pack: Pack, mark: str) -> None:
    read = read_pack(pack_in_words(pack), mark)
    assert read is not None
    assert (read.count, read.quantity, read.unit) == (pack.count, pack.quantity, pack.unit)
    assert read.name == pack.name or pack.name not in {*PACKAGES.values(), "pack"}


@given(st.text(max_size=150), st.sampled_from(".,"))
def test_no_text_breaks_the_reading(text: str, mark: str) -> None:
    pack, per = read_pack(text, mark), read_per(text, mark)
    assert pack is None or (pack.holds > 0 and pack.unit in UNITS)
    assert per is None or (per.quantity > 0 and (per.unit in UNITS or per.unit == "pack"))
