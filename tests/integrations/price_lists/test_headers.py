"""Which row is the header, and what its columns mean, in ten languages."""

from decimal import Decimal

import pytest

from service.domain.errors import ColumnsNotRecognised
from service.domain.price_list import Layout
from service.integrations.price_lists.folding import folded
from service.integrations.price_lists.header_words import MEANING_OF, SMALL_WORDS
from service.integrations.price_lists.price_header_words import BETTER, LESSER, NOT_THE_PRICE, PLAIN_PRICES, TAX_WORDS
from service.integrations.price_lists.price_headers import price_header
from service.use_cases.price_files import HowToRead
from tests.integrations.price_lists.tables import NOBODY_SAYS, a_list, a_table

LANGUAGES = {
    "English": "Item no.;Description;Pack size;Unit;Price;Barcode;Currency;Valid from;Valid until",
    "English, short": "SKU;Product;Case size;UOM;Net price;EAN;Curr.;Effective from;Expires",
    "French": "Réf. article;Désignation;Conditionnement;Unité;Prix unitaire HT;Code-barres;"
              "Devise;Date d’effet;Date de fin",
    "German": "Artikel-Nr.;Bezeichnung;Gebinde;Einheit;Preis netto;EAN;Währung;Gültig ab;Gültig bis",
    "German, shouting": "ARTIKELNUMMER;BEZEICHNUNG;VPE;ME;EK-PREIS;GTIN;WAEHRUNG;GUELTIG AB;GUELTIG BIS",
    "Spanish": "Código artículo;Descripción;Formato;Unidad de venta;Precio (sin IVA);Código de barras;"
               "Moneda;Válido desde;Válido hasta",
    "Italian": "Codice articolo;Descrizione;Confezione;Unità di misura;Prezzo;Codice a barre;"
               "Valuta;Valido dal;Valido fino al",
    "Dutch": "Artikelnummer;Omschrijving;Verpakking;Eenheid;Prijs excl. btw;Streepjescode;"
             "Valuta;Geldig vanaf;Geldig tot",
    "Portuguese": "Código do artigo;Descrição;Embalagem;Unidade;Preço s/ IVA;Código de barras;"
                  "Moeda;Válido a partir de;Válido até",
    "Danish": "Varenr.;Varetekst;Kolli;Enhed;Pris ekskl. moms;Stregkode;Valuta;Gyldig fra;Gyldig til",
    "Swedish": "Artikelnr;Benämning;Förpackning;Enhet;Pris exkl. moms;Streckkod;Valuta;Gäller från;Gäller till",
    "Norwegian": "Varenummer;Beskrivelse;Pakning;Enhet;Pris eks. mva;Strekkode;Valuta;Gjelder fra;Gjelder til",
}
MEANINGS = ["item", "name", "pack", "unit", "price", "gtin", "currency", "starts", "ends"]
ROW = "10-2345;Beef topside;2 x 5 kg;kg;14,20;4006381333931;EUR;01.12.2026;31.12.2026"


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_header_is_understood(language: str) -> None:
    found = a_table(LANGUAGES[language], ROW)
    assert found.layout is not None
    assert [meaning for meaning, _ in found.layout.columns] == MEANINGS
    assert [header for _, header in found.layout.columns] == LANGUAGES[language].split(";")
    assert found.rows[0].faults == ()


@pytest.mark.parametrize(("header", "rank", "currency", "per"), [
    ("Price", 1, "", ""), ("Price (GBP)", 1, "GBP", ""), ("Preis €", 1, "EUR", ""), ("Prix HT", 1, "", ""),
    ("EUR", 1, "EUR", ""),
    ("Price/kg", 1, "", "kg"), ("Price per kg", 1, "", "kg"), ("Preis pro Stk.", 1, "", "stk"),
    ("€/kg", 1, "EUR", "kg"),
    ("Prix au kilo", 1, "", "kilo"), ("Kilopreis", 1, "", "kg"), ("Prezzo al kg (EUR)", 1, "EUR", "kg"),
    ("Price per unit", 1, "", ""),
    ("Preis/VPE", 1, "", "vpe"), ("Price [SEK/kg]", 1, "SEK", "kg"), ("Net price", 2, "", ""),
    ("Preis netto", 2, "", ""),
    ("Nettopreis EUR/kg", 2, "EUR", "kg"), ("New price", 2, "", ""), ("List price", 0, "", ""),
    ("Listenpreis", 0, "", ""),
    ("Prix catalogue", 0, "", ""), ("Pris pr. kg", 1, "", "kg"), ("$/lb", 1, "", "lb"),
    ("Preis ab 01.12.2026", 1, "", ""), ("Price 2027", 1, "", ""), ("Prix/kg dès le 1/12/26", 1, "", "kg"),
])
def test_what_a_price_s_header_says(header: str, rank: int, currency: str, per: str) -> None:
    found = price_header(header)
    assert found is not None
    assert (found.rank, found.currency, found.per) == (rank, currency, per)


@pytest.mark.parametrize("header", [
    "Price incl. VAT", "Prix TTC", "Preis inkl. MwSt", "Old price", "RRP", "UVP", "Verkaufspreis", "Total price",
    "Gesamtpreis", "kg",
    "Price change", "Price list", "Preisliste", "Rabatt", "", "12,50", "Price 10", "Grundpreis", "Unit", "Alter Preis",
    "Precio con IVA"])
def test_what_is_not_the_price_that_is_paid(header: str) -> None:
    assert price_header(header) is None


def test_the_price_that_is_paid_goes_before_the_one_on_the_list() -> None:
    found = a_table("Code;List price;Discount;Net price", "1-1;10.00;10;9.00")
    assert found.rows[0].amount == 9
    assert found.layout is not None
    assert ("price", "Net price") in found.layout.columns


def test_two_prices_alike_are_asked_about() -> None:
    with pytest.raises(ColumnsNotRecognised, match=r"'Price per case', 'Price per kg'.*price_column") as refused:
        a_table("Code;Price per case;Price per kg", "1-1;71.00;7.10")
    assert refused.value.more == {
        "columns": ["Code", "Price per case", "Price per kg"], "missing": ["price"], "parameters": ["price_column"]}


def test_what_is_missing_is_told_with_the_way_to_say_it() -> None:
    with pytest.raises(ColumnsNotRecognised,
        match=r"item_column and price_column|price_column and item_column") as refused:
        a_table("Wert;Ding", "1.50;Beef", "2.50;Veal")
    assert refused.value.more["columns"] == ["Wert", "Ding"]
    assert refused.value.more["missing"] == ["price", "item"]
    assert refused.value.more["parameters"] == ["price_column", "item_column"]


def test_the_asker_s_words_are_taken() -> None:
    how = HowToRead({"item": "ding", "price": "WERT"})
    found = a_table("Wert;Ding;Unit", "1.50;Beef;kg", how=how)
    assert (found.rows[0].item, found.rows[0].amount, found.rows[0].per_unit) == ("Beef", 1.5, "kg")
    assert found.layout is not None
    assert found.layout.columns == (("price", "Wert"), ("item", "Ding"), ("unit", "Unit"))


def test_the_asker_s_words_go_before_ours() -> None:
    found = a_table("Code;Price;Special", "1-1;9.00;8.00", how=HowToRead({"price": "Special"}))
    assert found.rows[0].amount == 8


def test_a_header_that_the_asker_named_and_that_is_not_there_is_told() -> None:
    with pytest.raises(ColumnsNotRecognised, match="'Preis' is not there, or is there twice"):
        a_table("Code;Price", "1-1;9.00", how=HowToRead({"price": "Preis"}))
    with pytest.raises(ColumnsNotRecognised, match="'Price' is not there, or is there twice"):
        a_table("Code;Price;Price", "1-1;9.00;8.00", how=HowToRead({"price": "Price"}))


def test_one_column_may_be_named_twice() -> None:
    found = a_table("Ding;Price", "Beef;9.00", how=HowToRead({"item": "Ding", "name": "Ding"}))
    assert (found.rows[0].item, found.rows[0].name) == ("Beef", "Beef")


def test_what_was_remembered_is_taken_when_all_of_it_stands_there() -> None:
    last_time = HowToRead({}, remembered=Layout((("price", "Special"), ("item", "Code"))))
    assert a_table("Code;Price;Special", "1-1;9.00;8.00", how=last_time).rows[0].amount == 8
    assert a_table("Code;Price;Extra", "1-1;9.00;8.00", how=last_time).rows[0].amount == 9
    asked_anew = HowToRead({"price": "Price"}, remembered=last_time.remembered)
    assert a_table("Code;Price;Special", "1-1;9.00;8.00", how=asked_anew).rows[0].amount == 9


def test_last_time_s_decimal_mark_decides_only_where_nothing_tells() -> None:
    comma = HowToRead({}, remembered=Layout((("price", "Price"), ("item", "Code")), decimal_mark=",", delimiter=","))
    assert a_table("Code,Price", "1-1,1.234", how=comma).rows[0].amount == 1234
    assert a_table("Code,Price", "1-1,1.234", how=NOBODY_SAYS).rows[0].amount == Decimal("1.234")
    assert a_table("Code,Price", "1-1,1.234", "1-2,1.50", how=comma).rows[0].amount == Decimal("1.234")
    assert a_table("Code;Price", "1-1;1.234").rows[0].amount == 1234
    assert a_table("Code;Price;Pack", "1-1;1.234;6 x 1.5 l").rows[0].amount == Decimal("1.234")


@pytest.mark.parametrize("before", [0, 1, 5, 18])
def test_a_header_may_stand_anywhere_among_the_first_twenty_rows(before: int) -> None:
    lines = [f"Notice {place}" for place in range(before)]
    found = a_list("\n".join([*lines, "", "Code;Price", "1-1;9.00"]))
    assert found.layout is not None
    assert (found.layout.header_line, found.rows[0].place) == (before + 2, f"line {before + 3}")


def test_no_header_is_looked_for_further_down() -> None:
    with pytest.raises(ColumnsNotRecognised):
        a_list("\n".join(["Notice"] * 20 + ["Code;Price", "1-1;9.00"]))


@pytest.mark.parametrize(("header", "meanings"), [
    ("Item;Price", ["item", "price"]), ("Item;Description;Price", ["item", "name", "price"]),
    ("Code;Item;Price", ["item", "name", "price"]), ("Artikel;Preis;Artikel-Nr.", ["name", "price", "item"]),
    ("Name;Price", ["name", "price"]), ("GTIN;Price", ["gtin", "price"]),
])
def test_a_word_that_may_mean_code_or_name_depends_on_the_others(header: str, meanings: list[str]) -> None:
    found = a_table(header, "4006381333931;4.50;4006381333931", "4006381333931;5.50;4006381333931")
    assert found.layout is not None
    assert [meaning for meaning, _ in found.layout.columns] == meanings


@pytest.mark.parametrize(("first", "second", "items"), [("1", "2", ["Beef", "Veal"]), ("17", "2", ["17", "2"])])
def test_a_column_that_only_counts_the_rows_names_no_item(first: str, second: str, items: list[str]) -> None:
    found = a_table("No.;Item;Price", f"{first};Beef;4.50", f"{second};Veal;5.50")
    assert [row.item for row in found.rows] == items


def test_columns_headed_alike_cannot_be_told_by_name() -> None:
    with pytest.raises(ColumnsNotRecognised, match=r"'Price', 'Price'. Rename one of them"):
        a_table("Code;Price;Price", "1-1;71.00;7.10")


def test_the_words_are_written_as_headers_are_compared() -> None:
    for word in {*MEANING_OF, *PLAIN_PRICES, *BETTER, *LESSER, *NOT_THE_PRICE, *TAX_WORDS}:
        assert folded(word) == word
        assert not SMALL_WORDS & set(word.split()) or word in TAX_WORDS
    assert not PLAIN_PRICES & set(MEANING_OF)
    assert not (BETTER | LESSER) & (NOT_THE_PRICE | TAX_WORDS)
