"""A supplier's file, read: its kind is told by its first bytes, never by its name.

Rules that always hold: what it is bounded by is bounded before it is read; whatever it holds, one of the three faults
comes out or a price list does.
"""

import re
from collections.abc import Mapping

from service.domain.errors import FileTooLarge, UnreadableFile
from service.domain.price_list import PriceList
from service.integrations.price_lists.csv_text import read_csv
from service.integrations.price_lists.ubl import read_ubl
from service.integrations.price_lists.workbook_checks import refuse_old_workbook
from service.integrations.price_lists.xlsx import read_workbook
from service.use_cases.price_files import HowToRead

MOST_BYTES = 20_000_000
_ZIP = (b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")
_OLE2 = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_OTHERS: Mapping[bytes, tuple[str, str]] = {
    b"%PDF-": ("pdf", "a PDF document"), b"{\\rtf": ("document", "an RTF document"),
    b"\x89PNG": ("image", "an image"), b"\xff\xd8\xff": ("image", "an image"), b"GIF8": ("image", "an image"),
    b"II*\0": ("image", "an image"), b"MM\0*": ("image", "an image"),
    b"\x1f\x8b": ("archive", "a packed archive"), b"7z\xbc\xaf": ("archive", "a packed archive"),
    b"Rar!": ("archive", "a packed archive"), b"BZh": ("archive", "a packed archive"),
    b"\xfd7zXZ": ("archive", "a packed archive"),
}
_XML = re.compile(rb"^(?:\xef\xbb\xbf)?[ \t\r\n]*<|^(?:\xff\xfe)?(?:[ \t\r\n]\0)*<\0|^(?:\xfe\xff)?(?:\0[ \t\r\n])*\0<")
_HTML = re.compile(rb"<(?:!doctype\s+html|html|head|body|table|meta)\b", re.IGNORECASE)
_BLANK = re.compile(rb"^(?:\xef\xbb\xbf|\xff\xfe|\xfe\xff)?[\0 \t\r\n]*$")


def read_price_file(content: bytes, how: HowToRead) -> PriceList:
    """What a file says: CSV, XLSX, or a UBL 2.1 Catalogue or Invoice.

    Raises:  UnreadableFile, FileTooLarge, ColumnsNotRecognised; ReadersBusy when too many files are read at once.
    """
    if len(content) > MOST_BYTES:
        raise FileTooLarge(f"The file has {len(content):,} bytes; up to {MOST_BYTES:,} are read. Split the list.",
                           limit=MOST_BYTES, counted="bytes")
    if content.startswith(_ZIP):
        return read_workbook(content, how)
    if content.startswith(_OLE2):
        refuse_old_workbook(content)
    _refuse_others(content)
    if _XML.match(content):
        return read_ubl(content)
    return read_csv(content, how)


def _refuse_others(content: bytes) -> None:
    """Refuse what is known to be something else, by its name.

    Raises:  UnreadableFile.
    """
    if _BLANK.match(content):
        raise UnreadableFile("The file is empty: send the price list itself.", why="empty")
    for start, (why, what) in _OTHERS.items():
        if content.startswith(start):
            raise UnreadableFile(f"The file is {what}: send the list as CSV or XLSX, or as a UBL document.", why=why)
    if _HTML.search(content[:1024]) and _XML.match(content):
        raise UnreadableFile("The file is a web page, whatever it is called: save it as XLSX or CSV.", why="web-page")
