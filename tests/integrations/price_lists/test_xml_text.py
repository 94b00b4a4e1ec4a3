"""An XML document's encoding is decided once, and nothing but comments stands before its root."""

import codecs

import pytest

from service.domain.errors import FileTooLarge, UnreadableFile
from service.integrations.price_lists.ubl import read_ubl
from service.integrations.price_lists.xml_text import MOST_ELEMENTS, utf8_document
from tests.integrations.price_lists.ubl_documents import a_catalogue, a_line, a_price, an_item

NAME = "Rinderhüfte"


def a_list(declared: str) -> str:
    said = f' encoding="{declared}"' if declared else ""
    return a_catalogue(a_line(a_price(), item=an_item(name=NAME)),
                       declaration=f'<?xml version="1.0"{said}?>').decode()


@pytest.mark.parametrize(("declared", "written", "mark"), [
    ("UTF-8", "utf-8", b""), ("utf-8", "utf-8", codecs.BOM_UTF8), ("", "utf-8", b""), ("", "utf-8", codecs.BOM_UTF8),
    ("UTF-16", "utf-16-le", codecs.BOM_UTF16_LE), ("UTF-16", "utf-16-be", codecs.BOM_UTF16_BE), ("", "utf-16-le", b""),
    ("utf-16", "utf-8", b""), ("ISO-8859-1", "latin-1", b""), ("windows-1252", "cp1252", b""),
])
def test_a_list_reads_the_same_in_every_encoding(declared: str, written: str, mark: bytes) -> None:
    """ISO-8859-1 is what the published catalogue examples declare; utf-16 over UTF-8 is what some programs write."""
    assert read_ubl(mark + a_list(declared).encode(written)).rows[0].name == NAME


@pytest.mark.parametrize("content", [
    b'<?xml version="1.0" encoding="UTF-7"?><a/>', b'<?xml version="1.0" encoding="EBCDIC-CP-US"?><a/>',
    codecs.BOM_UTF32_LE + "<a/>".encode("utf-32-le"), "<a>\udcff</a>".encode("utf-16-le", "surrogatepass"),
    codecs.BOM_UTF8 + b'<?xml version="1.0" encoding="ISO-8859-1"?><a/>',
    b'<?xml version="1.0" encoding="UTF-' + b"F-" * 50 + b'8"?><a/>',
    b'<?xml version="1.0"' + b" " * 200 + b'encoding="UTF-7"?><a/>', b'<?xml version="1.0><a/>',
])
def test_what_could_be_read_two_ways_is_not_read(content: bytes) -> None:
    with pytest.raises(UnreadableFile) as refused:
        utf8_document(content)
    assert refused.value.more["why"] == "encoding"


def test_bytes_that_are_not_utf_8_are_told_as_damage() -> None:
    with pytest.raises(UnreadableFile, match="damaged"):
        read_ubl(a_list("UTF-8").encode("latin-1"))


def test_comments_and_instructions_may_stand_before_the_root() -> None:
    text = a_list("UTF-8").replace("?><", "?>\n<!-- <!DOCTYPE in a comment is text --><?style none?>\n<", 1)
    assert len(read_ubl(text.encode()).rows) == 1


@pytest.mark.parametrize("before", [
    "<!DOCTYPE Catalogue>", "<!doctype Catalogue>", '<!-- x --><!DOCTYPE Catalogue SYSTEM "file:///etc/passwd">',
])
def test_a_doctype_is_refused_wherever_it_can_stand(before: str) -> None:
    for encoding in ("utf-8", "utf-16"):
        with pytest.raises(UnreadableFile) as refused:
            utf8_document(f"{before}<Catalogue/>".encode(encoding))
        assert refused.value.more["why"] == "doctype"


@pytest.mark.parametrize("content", [b"", b"   ", b"prices", b"<!-- no end", b"<!ELEMENT a>", b"<1/>"])
def test_what_is_no_xml_is_told(content: bytes) -> None:
    with pytest.raises(UnreadableFile) as refused:
        utf8_document(content)
    assert refused.value.more["why"] == "not-xml"


def test_elements_are_counted_before_they_are_parsed() -> None:
    with pytest.raises(FileTooLarge, match="400,000 elements"):
        utf8_document(b"<a>" + b"<b></b>" * (MOST_ELEMENTS + 1) + b"</a>")
