"""What a workbook says of itself, held against what is read, before anything of it is unpacked.

An XLSX file is a ZIP archive (ECMA-376 part 2). Its directory tells how many members there are, where each lies and how
large it says that it is: enough to refuse most that is hostile in a millisecond. What a directory says can be a lie, so
`workbook_holes` holds each member that is read to it, while the reader in the cage already works.

Source: ECMA-376 for the parts of a workbook; [MS-OFFCRYPTO] and [MS-XLS] for the streams by which an encrypted and an
        old workbook are told.
"""

import re
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipInfo

from service.domain.errors import FileTooLarge, UnreadableFile
from service.integrations.delimited.rows import MOST_COLUMNS
from service.integrations.price_lists.archive import Archive, damaged, open_archive, shown
from service.integrations.price_lists.table_reading import HEADER_WITHIN, MOST_ROWS

MOST_UNPACKED = 100 * 1_048_576
HIGHEST_RATIO = 100
LARGE = 1_048_576
HEAD_OF_A_SHEET = 65_536
"""A sheet's dimension stands before its rows, after some properties."""

MOST_SHEET_ROWS = MOST_ROWS + HEADER_WITHIN
OLE2 = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_DIMENSION = re.compile(rb"<(?:\w+:)?dimension\b[^<>]{0,200}?\bref=[\"']"
                        rb"([A-Z]{1,3})(\d{1,10})(?::([A-Z]{1,3})(\d{1,10}))?[\"']")
_WORKBOOK = b"spreadsheetml.sheet.main+xml"
_TEMPLATE = b"spreadsheetml.template.main+xml"


def refuse_old_workbook(content: bytes) -> None:
    """Refuses an OLE2 container, which is an encrypted workbook, one of before 2007, or something else altogether."""
    if not content.startswith(OLE2):
        return
    if "EncryptedPackage".encode("utf-16-le") in content:
        raise _is_encrypted()
    if any(name.encode("utf-16-le") + b"\0\0" in content for name in ("Workbook", "Book")):
        raise UnreadableFile("The workbook is of the old kind (.xls). Save it as .xlsx or CSV.", why="old-workbook")
    raise UnreadableFile("The file is no workbook, but a document of another program. Send the list as XLSX, CSV or "
                         "UBL.", why="not-a-workbook")


def checked_archive(content: bytes) -> Archive:
    """The workbook's archive, after all that can be told without unpacking more than the beginnings of some parts.

    Raises:  UnreadableFile, FileTooLarge.
    """
    archive = open_archive(content)
    for member in archive.members:
        _check_member(member)
    _check_sizes(archive.members)
    _check_places(archive)
    _check_kind(archive)
    for member in archive.members:
        if member.filename.startswith("xl/worksheets/") and member.filename.endswith(".xml"):
            _check_dimension(archive, member)
    return archive


def column_number(letters: bytes) -> int:
    """A column's number from its letters. Example: A is 1, XFD is 16384."""
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number


def _check_member(member: ZipInfo) -> None:
    if member.flag_bits & 0x1:
        raise _is_encrypted()
    name = member.filename
    if name.startswith("/") or "\\" in name or ":" in name or ".." in name.split("/"):
        raise UnreadableFile(f"The workbook has a part of an unsafe name: {shown(member)}. Save it again in a "
                             "spreadsheet program.", why="unsafe-name")
    if name.endswith("vbaProject.bin"):
        raise _has_macros()
    if member.compress_type not in (ZIP_STORED, ZIP_DEFLATED):
        raise damaged(f"{shown(member)} is packed in a way that workbooks are not")


def _check_sizes(members: tuple[ZipInfo, ...]) -> None:
    unpacked = sum(member.file_size for member in members)
    if unpacked > MOST_UNPACKED:
        raise FileTooLarge(f"The workbook unpacks to {unpacked:,} bytes; up to {MOST_UNPACKED:,} are read. Split the "
                           "list, or save it as CSV.", limit=MOST_UNPACKED, counted="unpacked bytes")
    for member in members:
        if member.file_size > LARGE and member.file_size > HIGHEST_RATIO * member.compress_size:
            raise FileTooLarge(f"The workbook's part {shown(member)} unpacks to more than {HIGHEST_RATIO} times its "
                               "size, which no list of prices does. Save it as CSV.", limit=HIGHEST_RATIO,
                               counted="times the packed size")


def _check_places(archive: Archive) -> None:
    """No two members share a name or bytes: each ends before the next begins."""
    members = sorted(archive.members, key=lambda member: member.header_offset)
    if len({member.filename for member in members}) != len(members):
        raise damaged("two of its parts have one name")
    nexts = [member.header_offset for member in members[1:]] + [len(archive.content)]
    for member, following in zip(members, nexts, strict=True):
        if archive.data_of(member) + member.compress_size > following:
            raise damaged(f"{shown(member)} overlaps another of its parts")


def _check_kind(archive: Archive) -> None:
    """A workbook by its list of content types, without macros; anything else by what it seems to be."""
    by_name = {member.filename: member for member in archive.members}
    listed = by_name.get("[Content_Types].xml")
    types = b"" if listed is None else b"".join(archive.unpacked(listed, LARGE))
    if b"macroEnabled" in types or b"macrosheet" in types:
        raise _has_macros()
    if _WORKBOOK in types or _TEMPLATE in types:
        return
    if "mimetype" in by_name and b"spreadsheet" in b"".join(archive.unpacked(by_name["mimetype"], 200)):
        raise UnreadableFile("The file is an OpenDocument spreadsheet. Save it as .xlsx or CSV.", why="opendocument")
    raise UnreadableFile("The file is an archive (ZIP), and no workbook. Send the list itself, as XLSX, CSV or UBL.",
                         why="not-a-workbook")


def _check_dimension(archive: Archive, member: ZipInfo) -> None:
    found = _DIMENSION.search(b"".join(archive.unpacked(member, HEAD_OF_A_SHEET)))
    if found is None:
        return
    first_column, first_row, last_column, last_row = found.groups()
    rows, columns = int(last_row or first_row), column_number(last_column or first_column)
    if rows > MOST_SHEET_ROWS:
        raise FileTooLarge(f"{shown(member)} says that it has {rows:,} rows; up to {MOST_ROWS:,} are read. Delete the "
                           "empty rows below the list, or save it as CSV.", limit=MOST_ROWS, counted="rows")
    if columns > MOST_COLUMNS:
        raise FileTooLarge(f"{shown(member)} says that it has {columns:,} columns; up to {MOST_COLUMNS} are read. "
                           "Delete the empty columns beside the list, or save it as CSV.", limit=MOST_COLUMNS,
                           counted="columns")


def _is_encrypted() -> UnreadableFile:
    return UnreadableFile("The workbook is encrypted. Save it without a password.", why="encrypted")


def _has_macros() -> UnreadableFile:
    return UnreadableFile("The workbook has macros. Save it as .xlsx, without them.", why="macros")
