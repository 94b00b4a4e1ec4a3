"""The text of an XML document as UTF-8, and what stands before its root, before any parser sees it.

The encoding is decided here, once, from the byte order mark and the declaration (XML 1.0, appendix F), out of a short
list; the parser is given UTF-8 without a declaration. So no two readers of the document can disagree about it, and
encodings that can hide a tag from one of them (UTF-7) never reach a parser. ISO-8859-1 is on the list because the
published examples of Peppol catalogues declare it.

A DOCTYPE can only stand before the root, so that is where it is looked for.

Source: XML 1.0 (fifth edition), productions 22 to 28 and appendix F.
"""

import codecs
import re

from service.domain.errors import FileTooLarge, UnreadableFile

MOST_ELEMENTS = 400_000
"""Somewhat more than 20 MB of a catalogue hold."""

_READ = {"utf-8": "utf-8", "utf8": "utf-8", "us-ascii": "utf-8", "ascii": "utf-8", "utf-16": "utf-16",
         "utf-16le": "utf-16-le", "utf-16be": "utf-16-be", "iso-8859-1": "latin-1", "latin1": "latin-1",
         "iso-8859-15": "iso8859-15", "windows-1252": "cp1252"}
_DECLARATION = re.compile(rb"\s{0,100}<\?xml\b([^<>]{0,200})\?>")
_ENCODING = re.compile(rb"\bencoding\s*=\s*[\"']([A-Za-z0-9._-]{1,200})[\"']")
_BLANK = re.compile(rb"[ \t\r\n]*")
_NAME_START = re.compile(rb"<[A-Za-z_:\x80-\xff]")


def utf8_document(content: bytes) -> bytes:
    """The document as UTF-8, from behind its declaration on, with nothing but comments before its root.

    Raises:  UnreadableFile for an encoding that is not read, or a DOCTYPE; FileTooLarge.
    """
    text = _as_utf8(content)
    if text.count(b"<") > 2 * MOST_ELEMENTS:
        raise FileTooLarge(f"The document has more than {MOST_ELEMENTS:,} elements. Split it.", limit=MOST_ELEMENTS,
                           counted="elements")
    _check_prologue(text)
    return text


def _as_utf8(content: bytes) -> bytes:
    marked = _marked(content)
    head = content[:400] if marked is None else content[:400].decode(marked, "replace").encode("utf-8", "replace")
    declared = _declared(head.removeprefix(codecs.BOM_UTF8))
    # A declaration that reads in single bytes is not in UTF-16, whatever it says.
    encoding = marked or (declared if declared and not declared.startswith("utf-16") else "utf-8")
    if declared is not None and marked is not None and not _agree(declared, marked):
        raise _not_read(f"{declared} is declared, and the first bytes are {marked}")
    try:
        text = content if encoding == "utf-8" else content.decode(encoding).removeprefix("\ufeff").encode()
    except UnicodeDecodeError as fault:
        raise UnreadableFile(f"The document is not in the encoding that it declares ({encoding}): byte {fault.start} "
                             "does not read so. Save it as UTF-8.", why="encoding") from fault
    text = text.removeprefix(codecs.BOM_UTF8)
    declaration = _DECLARATION.match(text)
    if declaration is None and text.lstrip().startswith(b"<?xml "):
        raise UnreadableFile("The document's first line, its XML declaration, does not read. Save it anew.",
                             why="encoding")
    return text[declaration.end():] if declaration else text


def _marked(content: bytes) -> str | None:
    """The encoding that the first bytes give away."""
    if content.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        raise _not_read("it is UTF-32")
    if content.startswith((codecs.BOM_UTF16_LE, b"<\0")):
        return "utf-16-le"
    if content.startswith((codecs.BOM_UTF16_BE, b"\0<")):
        return "utf-16-be"
    return "utf-8" if content.startswith(codecs.BOM_UTF8) else None


def _declared(head: bytes) -> str | None:
    declaration = _DECLARATION.match(head)
    named = _ENCODING.search(declaration[1]) if declaration else None
    if named is None:
        return None
    name = named[1].decode().lower()
    if name not in _READ:
        raise _not_read(f"it declares {named[1].decode()[:40]}")
    return _READ[name]


def _agree(declared: str, marked: str) -> bool:
    """UTF-16 is declared without the order of its bytes; some programs declare it and write UTF-8."""
    return declared == marked or declared.startswith("utf-16")


def _check_prologue(text: bytes) -> None:
    """Walks over comments and processing instructions up to the root; nothing else may stand there."""
    place = 0
    while True:
        place = _BLANK.match(text, place).end()  # type: ignore[union-attr]
        if text.startswith(b"<!--", place):
            place = _behind(text, b"-->", place)
        elif text.startswith(b"<?", place):
            place = _behind(text, b"?>", place)
        elif text[place:place + 9].upper() == b"<!DOCTYPE":
            raise UnreadableFile("The document has a DOCTYPE, which no UBL document needs and none is read with. Take "
                                 "it out.", why="doctype")
        elif _NAME_START.match(text, place):
            return
        else:
            raise UnreadableFile("The document is not XML: it does not begin with an element.", why="not-xml")


def _behind(text: bytes, end: bytes, place: int) -> int:
    found = text.find(end, place)
    if found < 0:
        raise UnreadableFile("The document is not XML: a comment before its first element does not end.", why="not-xml")
    return found + len(end)


def _not_read(how: str) -> UnreadableFile:
    return UnreadableFile(f"The document's encoding is not read here: {how}. Save it as UTF-8.", why="encoding")
