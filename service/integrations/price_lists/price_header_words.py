"""The words that head a column of prices, in ten languages: which say that it is one, a better one, or none.

Folded (`folding.folded`), and without small words.

Source: common use in trade, from memory.
"""

from collections.abc import Mapping

from service.integrations.price_lists.word_lists import listed

PLAIN_PRICES = frozenset(listed("""
    price|prices|unit price|cost|cost price|unit cost|purchase price|case price|pack price|rate|preis|preise|
    einzelpreis|stuckpreis|stueckpreis|einheitspreis|einkaufspreis|ek|ek preis|ekpreis|ep|prix|prix unitaire|pu|p u|
    prix achat|prix vente|tarif|tarifs|precio|precio unitario|precio compra|precio venta|prezzo|prezzo unitario|
    prezzo acquisto|prijs|stukprijs|eenheidsprijs|inkoopprijs|preco|preco unitario|preco compra|pris|enhedspris|
    enhetspris|stykpris|stykkpris|styckpris|a pris|apris|innkjopspris|inkopspris|indkobspris|kilopreis|kg preis|
    preis kg|kilopris|kiloprijs|prix kilo|prix kg|precio kg|prezzo kg|pris kg|price kg|kr
"""))
"""Head a price by themselves."""

KILO_PRICES = frozenset(listed("""
    kilopreis|kg preis|preis kg|kilopris|kiloprijs|prix kilo|prix kg|precio kg|prezzo kg|pris kg|price kg
"""))
"""Prices whose very word says that they are per kilogram."""

BETTER = frozenset(listed("""
    net nett netto neto liquido neu neuer new nouveau nuevo nuovo nieuwe novo ny nya nye your ihr votre agreed
    contract
"""))
"""With one of these, a price goes before a plain one: it is what this kitchen is to pay."""

LESSER = frozenset(listed("""
    list liste listen listino lista catalogue catalog katalog catalogus tabela gross brut brutto bruto base standard
"""))
"""With one of these, a price goes after a plain one: it is before discounts."""

NOT_THE_PRICE = frozenset(listed("""
    incl inkl including inclusive inc ttc incluido incluida incluso inclusa inclus con avec mit med met com old alt
    alter alte ancien anterior vecchio precedente oud oude gammel gamle gammal previous last vorher vorige rrp srp
    uvp retail consumer consommateur vk verkauf verkaufs empfohlener vejledende veiledende recommended advies
    conseille c total gesamt summe totale ligne line comparison vergleich referenz grund discount rabatt remise
    change diff difference history
"""))
"""With one of these it is another figure than what is paid: with tax, of the past, of a shop, a sum."""

LIST_TITLES = frozenset(listed("""
    price list|pricelist|prices list|preisliste|preis liste|liste prix|lista precios|lista prezzi|listino prezzi|
    prijslijst|lista precos|tabela precos|prisliste|prislista
"""))
"""What a whole list is called: never a header."""

TAX_WORDS = frozenset(listed("""
    excl exkl ex exc excluding exclusive without ohne hors sans sin senza sem zonder uden utan uten zzgl plus esclusa
    escluso excluida excluido exclus exclusief eks ekskl s vat mwst ust tva ht iva btw moms mva tax taxe taxes in en
    em
"""))
"""Say that tax comes on top: every price here is before tax."""

COMPOUNDS: Mapping[str, str] = {
    "nettopreis": "netto preis", "nettoprijs": "netto prijs", "nettopris": "netto pris", "neupreis": "neu preis",
    "listenpreis": "listen preis", "listepris": "liste pris", "listpris": "list pris", "bruttopreis": "brutto preis",
    "brutoprijs": "bruto prijs", "bruttopris": "brutto pris", "katalogpreis": "katalog preis",
    "catalogusprijs": "catalogus prijs", "adviesprijs": "rrp prijs", "verkaufspreis": "verkauf preis",
    "gesamtpreis": "gesamt preis", "altpreis": "alt preis", "listprice": "list price", "netprice": "net price",
    "nettoeinkaufspreis": "netto einkaufspreis", "nettoek": "netto ek", "grundpreis": "grund preis",
}
"""Words that are written in one, taken apart."""
