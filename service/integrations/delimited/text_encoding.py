"""The encoding of a text file, told from its bytes.

A byte order mark decides; else UTF-16 shows by its zero bytes, UTF-8 by being valid, and what is left is Windows-1252.
A file that is mostly UTF-8 and broken in some places is refused: read as Windows-1252 it would show wrong letters.

Source: the Encoding Standard, for the names, and for the five bytes that Windows-1252 does not define.
"""

import re
from codecs import BOM_UTF8, BOM_UTF16_BE, BOM_UTF16_LE, getincrementaldecoder

from service.domain.errors import UnreadableFile

_PIECE = 1 << 18
_SAMPLE = 1 << 12
_BOMS = ((BOM_UTF8, "utf-8"), (BOM_UTF16_LE, "utf-16-le"), (BOM_UTF16_BE, "utf-16-be"))
_NAMES = {"utf-8": "UTF-8", "utf-16-le": "UTF-16", "utf-16-be": "UTF-16"}
_CONTROLS = bytes(each for each in range(32) if each not in b"\t\n\v\f\r\x1a")
_CONTROL = re.compile(f"[{re.escape(_CONTROLS.decode())}]")


def encoding_of(content: bytes) -> tuple[str, int]:
    """The encoding of a text, and how many bytes its byte order mark takes.

    Raises:  UnreadableFile for what is no text in UTF-8, UTF-16 or Windows-1252.
    """
    bom, encoding = next(((bom, name) for bom, name in _BOMS if content.startswith(bom)), (b"", ""))
    encoding = encoding or _utf_16_without_bom(content) or "utf-8"
    try:
        _check(content, encoding, len(bom))
    except UnicodeDecodeError:
        if bom or encoding != "utf-8" or _is_mostly_utf_8(content):
            raise _broken(content, encoding, len(bom)) from None
        return _windows_1252(content), 0
    return encoding, len(bom)


def not_text() -> UnreadableFile:
    """The file holds what no text does."""
    return UnreadableFile("The file is not text: it holds control characters. Save the table as CSV in UTF-8, or send "
                          "another of the formats that are read here.", why="binary")


def _utf_16_without_bom(content: bytes) -> str:
    """UTF-16 by its zero bytes: the digits, delimiters and most letters of a list have one each, all on one side."""
    sample = content[:_SAMPLE]
    left, right = sample[0::2].count(0), sample[1::2].count(0)
    if left and right:
        return ""
    likely = len(sample) * 3 // 10
    return "utf-16-le" if right > likely else "utf-16-be" if left > likely else ""


def _windows_1252(content: bytes) -> str:
    try:
        _check(content, "cp1252", 0)
    except UnicodeDecodeError:
        raise _broken(content, "cp1252", 0) from None
    return "windows-1252"


def _check(content: bytes, encoding: str, start: int) -> None:
    """Hold a file to be text in that encoding, a piece at a time, so that it is never there twice.

    Raises:  UnicodeDecodeError, UnreadableFile.
    """
    decoder = getincrementaldecoder(encoding)("strict")
    for at in range(start, len(content), _PIECE):
        piece = content[at:at + _PIECE]
        text = decoder.decode(piece, at + _PIECE >= len(content))
        # Among 8-bit encodings control characters are the same bytes, and bytes are searched faster than text.
        controls = _CONTROL.search(text) if encoding.startswith("utf-16") else (
            len(piece.translate(None, _CONTROLS)) < len(piece))
        if controls:
            raise not_text()


def _is_mostly_utf_8(content: bytes) -> bool:
    text = content[:1 << 20].decode("utf-8", "replace")
    broken = text.count("\ufffd")
    beyond_ascii = len(text) - len(text.encode("ascii", "ignore"))
    return beyond_ascii - broken > broken


def _broken(content: bytes, encoding: str, start: int) -> UnreadableFile:
    line = 1
    try:
        content[start:].decode(encoding)
    except UnicodeDecodeError as fault:
        line += content.count(b"\n", start, start + fault.start)
    name = _NAMES.get(encoding, "UTF-8, UTF-16 or Windows-1252")
    return UnreadableFile(f"Line {line} is not text in {name}: save the file as UTF-8.", why="encoding", line=line)
