"""The words by which suppliers head the columns of a price list, in ten languages, and what each means.

English, French, German, Spanish, Italian, Dutch, Portuguese, Danish, Swedish, Norwegian; folded (`folding.folded`),
and without small words ("de", "of", "the"). Within a meaning, words that come first are preferred where a table has
several. Headers of prices are in `price_header_words`.

Source: common use in trade, from memory.
"""

from collections.abc import Iterator, Mapping

from service.integrations.price_lists.word_lists import listed

SMALL_WORDS = frozenset(listed("""
    de d des du del della dello di da do dos das la le les l el il lo i of the der die den dem van het een an our
"""))
"""Left out of a header before it is looked up."""

_THINGS = """
    article artikel item product produkt produit articulo producto articolo prodotto artigo produto vare vara varu
    material art prod order bestell commande
"""
_CODES = """
    code codes no nr num number numero nummer id ref reference referenz referencia riferimento referens kode kod
    codigo codice
"""

ITEM_OR_NAME = frozenset(listed("""
    item items article artikel product products produkt produit produits articulo producto articolo prodotto artigo
    produto vare vara material ware goods
"""))
"""Words that head a code in one list and a name in the next: what they mean depends on the other columns."""

COUNTING = frozenset(("no", "nr", "num", "numero", "nummer", "id", "pos"))
"""Words that head an item's code in one list and the number of the row in the next."""

_MEANINGS: Mapping[str, str] = {
    "item": """
        sku|code|ref|reference|referenz|referencia|riferimento|codigo|codice|kode|kod|no|nr|num|numero|nummer|plu|art|
        artnr|artno|cod|item sku|bestellnummer|bestnr|best nr|stock code|catalogue no|catalog no|supplier item|
        supplier item code|supplier article number|supplier product code|supplier sku|lieferantenartikelnummer|
        lieferanten artikelnummer|ref fournisseur|reference fournisseur|leverandor varenr|leverantorens artikelnr
        """,
    "name": """
        name|description|item description|product description|item name|product name|bezeichnung|artikelbezeichnung|
        produktbezeichnung|beschreibung|artikelbeschreibung|artikelname|warenbezeichnung|artikeltext|designation|
        libelle|nom|denomination|descriptif|nombre|descripcion|denominacion|descrizione|denominazione|nome|
        omschrijving|productomschrijving|artikelomschrijving|benaming|naam|productnaam|descricao|designacao|
        betegnelse|varebetegnelse|beskrivelse|varetekst|varenavn|navn|produktnavn|benamning|beskrivning|namn|
        varubenamning|produktnamn|artikelbenamning|text|desc|details
        """,
    "unit": """
        price unit|priced per|price per|per|preiseinheit|unite prix|unidad precio|unita prezzo|prijseenheid|prisenhed|
        prisenhet|sales unit|selling unit|sold by|unit sale|verkaufseinheit|unite vente|unidad venta|unita vendita|
        verkoopeenheid|salgsenhed|salgsenhet|unit measure|unit|units|uom|u m|um|einheit|me|
        mengeneinheit|einh|ve einheit|unite|unite facturation|unidad|unidad medida|ud|unita|unita misura|eenheid|
        unidade|unidade medida|unid|enhed|enhet|basis
        """,
    "pack": """
        pack|pack size|packsize|pack description|packing|packaging|package|case size|case|size|format|conditionnement|
        cond|emballage|colis|contenance|gebinde|gebindegrosse|verpackung|verpackungseinheit|vpe|ve|inhalt|packung|
        packungsgrosse|packungseinheit|formato|envase|embalaje|presentacion|confezione|imballo|confezionamento|
        verpakking|verpakkingseenheid|inhoud|embalagem|apresentacao|forpakning|forpackning|pakning|pakke|kolli|
        kollistorrelse|pakkestorrelse|pakningsstorrelse|forpackningsstorlek|contents
        """,
    "pack_count": """
        units per case|units case|units per pack|pieces per case|pieces per pack|pcs per case|pcs case|case qty|
        case quantity|qty per case|quantity per case|packed in|colisage|unites par colis|nombre par colis|
        stuck pro karton|stuck pro ve|stk pro karton|unidades por caja|uds caja|uds por caja|pezzi per cartone|
        pezzi cartone|stuks per doos|aantal per doos|unidades por caixa|antal per kolli|antal pr kolli|stk pr kolli|
        antall per kartong|antall pr kartong|pieces per package
        """,
    "pack_quantity": """
        pack quantity|pack qty|quantity per pack|qty per pack|pack content|content quantity|packungsinhalt|
        menge pro packung|inhaltsmenge|quantite par unite|cantidad por envase|quantita per confezione|
        hoeveelheid per verpakking|quantidade por embalagem|antal pakning|mangd per forpackning|quantity per piece
        """,
    "pack_unit": """
        pack unit|content unit|contents unit|inhaltseinheit|unite contenance|unidad contenido|unita contenuto|
        inhoudseenheid|unidade conteudo|pakningsenhed|forpackningsenhet|unit piece
        """,
    "gtin": """
        gtin|ean|ean code|ean nr|ean no|gtin ean|ean gtin|ean 13|ean13|gtin 13|gtin13|gtin 14|gtin14|barcode|bar code|
        upc|strichcode|code barre|code barres|code ean|codigo barras|codigo ean|codice barre|codice a barre|codice ean|
        streepjescode|barkode|stregkode|strekkode|streckkod
        """,
    "currency": """
        currency|currency code|curr|ccy|wahrung|waehrung|wahr|devise|monnaie|moneda|divisa|valuta|munt|muntsoort|
        moeda|valutakode
        """,
    "starts": """
        valid from|starts|start|start date|starting|effective from|effective date|effective|price valid from|
        from date|gultig ab|gueltig ab|gultig von|gueltig von|preis ab|valable partir|valable a partir|valable depuis|
        date debut|date effet|date application|valido desde|valida desde|vigente desde|fecha inicio|valido dal|
        validita dal|valido partire dal|data inizio|decorrenza|geldig vanaf|ingangsdatum|valido partir|
        valido a partir|data inicio|gyldig fra|gaelder fra|galder fra|gjelder fra|galler fran|giltig fran|startdato|
        startdatum|fra dato
        """,
    "ends": """
        valid to|valid until|valid till|valid through|ends|end|end date|expires|expiry|effective to|gultig bis|
        gueltig bis|valable jusqu au|valable jusqu|date fin|valido hasta|valida hasta|vigente hasta|fecha fin|
        valido fino al|valido al|validita al|data fine|scadenza|geldig tot|geldig t m|einddatum|valido ate|data fim|
        gyldig til|gaelder til|gjelder til|galler till|giltig till|slutdato|slutdatum|enddatum|til dato
        """,
    "at_least": """
        from quantity|quantity from|quantity break|price break quantity|scale quantity|ab menge|menge ab|staffelmenge|
        quantite partir|quantite seuil|cantidad desde|vanaf aantal|staffelaantal|quantidade partir|
        fra antal|antal fra|fran antal|antal fran|fra antall
        """,
}


def _item_words() -> Iterator[str]:
    """"Artikel-Nr.", "Artikelnummer", "code article", "item no": a thing and a word for its code, in either order."""
    for thing in listed(_THINGS):
        for code in listed(_CODES):
            yield from (f"{thing} {code}", f"{code} {thing}", f"{thing}{code}", f"{thing}s{code}")


def _all_words() -> Iterator[tuple[str, str]]:
    yield from ((word, "item") for word in _item_words())
    for meaning, words in _MEANINGS.items():
        yield from ((word, meaning) for word in listed(words))


MEANING_OF: Mapping[str, str] = dict(_all_words())
"""What a header means, but for prices."""
PREFERENCE: Mapping[str, int] = {word: place for place, word in enumerate(MEANING_OF)}
"""The smaller, the rather."""
