"""XML documents and tables that want more than they seem to, each by its name, with the words of its refusal."""

import random
from collections.abc import Callable, Mapping

from tests.integrations.price_lists.ubl_documents import (
    a_catalogue,
    a_line,
    a_price,
    an_invoice,
    an_invoice_line,
    an_item,
    cbc,
)

Corpus = Mapping[str, tuple[Callable[[], bytes], str]]

MOST_BYTES = 20_000_000


def doctyped(inside: str, text: str) -> bytes:
    """A catalogue with a document type, and a text in it that uses what the type defines."""
    listed = a_catalogue(cbc("Note", "NOTE"), a_line(a_price())).decode().replace("NOTE", text)
    return listed.replace("?>", f"?><!DOCTYPE Catalogue {inside}>", 1).encode()


def tower_of_entities() -> bytes:
    """A billion laughs: nine levels, ten of the one below in each."""
    tower = "".join(f'<!ENTITY e{number} "{f"&e{number - 1};" * 10}">' for number in range(1, 10))
    return doctyped(f'[<!ENTITY e0 "ha">{tower}]', "&e9;")


def wide_entity() -> bytes:
    """One entity of 50 000 letters, used 100 000 times: 5 GB, and only one level of it (quadratic blow-up)."""
    return doctyped(f'[<!ENTITY w "{"w" * 50_000}">]', "&w;" * 100_000)


def attributes_declared() -> bytes:
    """100 000 attributes declared in a document type: a parser that looks each up among the others takes minutes."""
    return doctyped("[<!ATTLIST Catalogue " + " ".join(f'a{number} CDATA ""' for number in range(100_000)) + ">]", "x")


def inside_catalogue(text: str) -> bytes:
    return a_catalogue(a_line(a_price())).decode().replace("</cbc:VersionID>", f"</cbc:VersionID>{text}").encode()


def with_attributes(attributes: str) -> bytes:
    return a_catalogue(a_line(a_price())).decode().replace("<Catalogue ", f"<Catalogue {attributes} ", 1).encode()


def many_elements() -> bytes:
    """700 000 elements in 15 MB."""
    return inside_catalogue("<cbc:Note>x</cbc:Note>" * 700_000)


def crowded_line() -> bytes:
    """One line with 300 000 elements: fewer than a document may have, and nothing to do with a price."""
    return a_catalogue(a_line(a_price(), item=an_item(before="<cbc:Keyword>x</cbc:Keyword>" * 300_000)))


def noise(size: int = 3_000_000) -> bytes:
    return random.Random(7).randbytes(size)


HOSTILE_DOCUMENTS: Corpus = {
    "tower of entities": (tower_of_entities, "DOCTYPE"),
    "wide entity": (wide_entity, "DOCTYPE"),
    "external entity": (lambda: doctyped('[<!ENTITY x SYSTEM "file:///etc/passwd">]', "&x;"), "DOCTYPE"),
    "entity by parameter": (lambda: doctyped('[<!ENTITY % x SYSTEM "http://127.0.0.1:9/x"> %x;]', "x"), "DOCTYPE"),
    "external document type": (lambda: doctyped('SYSTEM "http://127.0.0.1:9/x.dtd"', "x"), "DOCTYPE"),
    "bare document type": (lambda: doctyped("", "x"), "DOCTYPE"),
    "100 000 attributes declared": (attributes_declared, "DOCTYPE"),
    "200 000 levels": (lambda: inside_catalogue("<cac:Party>" * 200_000 + "</cac:Party>" * 200_000), "levels deep"),
    "100 000 attributes": (lambda: with_attributes(
        " ".join(f'a{number}="x"' for number in range(100_000))), "attributes"),
    "50 000 namespaces": (lambda: with_attributes(
        " ".join(f'xmlns:n{number}="urn:n{number}"' for number in range(50_000))), "namespaces"),
    "comment of 19.9 MB": (lambda: inside_catalogue(f"<!--{'x' * 19_900_000}-->"), "damaged|Comment"),
    "text of 19.9 MB": (lambda: inside_catalogue(f"<cbc:Note>{'x' * 19_900_000}</cbc:Note>"), "longer than"),
    "attribute of 19.9 MB": (lambda: with_attributes(f'a="{"x" * 19_900_000}"'), "damaged|attribute"),
    "name of 19.9 MB": (lambda: inside_catalogue(f"<{'x' * 19_900_000}/>"), "damaged|[Nn]ame"),
    "700 000 elements": (many_elements, "400,000 elements"),
    "300 000 elements in a line": (crowded_line, "10,000 elements"),
    "UTF-7": (lambda: a_catalogue(a_line(a_price()), declaration='<?xml version="1.0" encoding="UTF-7"?>'), "encoding"),
    "credit note": (lambda: an_invoice(an_invoice_line(), kind="381"), "credit note"),
    "document cut short": (lambda: inside_catalogue("")[:-40], "damaged"),
    "20 MB and a byte": (lambda: b"Code;Price\n" + b"1;2\n" * 5_000_000, "20,000,000"),
    "table of quotes": (lambda: b"Code,Price\n" + b'"' * 19_000_000, "line|quote"),
    "open quote": (lambda: b'Code,Price\n1,2\n2,"' + b"x" * 19_900_000, "line|quote"),
    "open quote with lines": (lambda: b'Code,Price\n1,2\n2,"' + b"x,1\n" * 4_900_000, "quote"),
    "3 million columns": (lambda: b"Code,Price" + b",x" * 3_000_000 + b"\n", "columns|line"),
    "binary": (noise, "not text"),
    "binary that begins as a workbook": (lambda: b"PK\3\4" + noise(), "cut short|damaged"),
    "NULs": (lambda: b"\0" * 5_000_000, "empty|not text"),
    "NULs in a table": (lambda: b"Code,Price\n1,2\0\n" * 1000, "not text"),
}
