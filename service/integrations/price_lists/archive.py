"""A ZIP archive as far as a workbook is one: its directory, and its members unpacked no further than is asked.

Source: the PKWARE APPNOTE, 4.3 and 4.4.
"""

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from zipfile import ZIP_DEFLATED, BadZipFile, ZipFile, ZipInfo

from service.domain.errors import FileTooLarge, UnreadableFile

MOST_MEMBERS = 200
CHUNK = 65_536
_END = struct.Struct("<4s4H2LH")
_LARGE_END = struct.Struct("<4sQ2H2L4Q")
_LARGE_LOCATOR = 20
_LOCAL_HEADER = struct.Struct("<4s5H3L2H")


@dataclass(frozen=True, slots=True)
class Archive:
    """A workbook's bytes, and its members as its directory lists them."""

    content: bytes
    members: tuple[ZipInfo, ...]

    def unpacked(self, member: ZipInfo, most: int | None = None) -> Iterator[bytes]:
        """The member, piece by piece, as far as it is asked for; never more than it says that it is.

        Raises:  UnreadableFile when it is not of the size that it says, or is damaged.
        """
        start, count = self.data_of(member), 0
        packed = memoryview(self.content)[start:start + member.compress_size]
        for piece in _pieces(packed, member):
            count += len(piece)
            if count > member.file_size:
                break
            yield piece
            if most is not None and count >= most:
                return
        if count != member.file_size:
            raise UnreadableFile(f"The workbook's part {shown(member)} is not of the size that it is said to have. "
                                 "Save it again in a spreadsheet program.", why="sizes-lie")

    def data_of(self, member: ZipInfo) -> int:
        """Where the member's packed bytes begin: behind its own header."""
        try:
            signature, *_, name, extra = _LOCAL_HEADER.unpack_from(self.content, member.header_offset)
        except struct.error as fault:
            raise damaged(f"{shown(member)} lies outside of it") from fault
        if signature != b"PK\3\4":
            raise damaged(f"{shown(member)} is not where its directory says")
        return member.header_offset + _LOCAL_HEADER.size + int(name) + int(extra)


def open_archive(content: bytes) -> Archive:
    """The archive with its members, counted before they are listed: a directory alone can be made to fill a memory.

    Raises:  UnreadableFile, FileTooLarge.
    """
    start, end = _directory(content)
    members = content.count(b"PK\1\2", start, end)
    if members > MOST_MEMBERS:
        raise FileTooLarge(f"The workbook has {members} parts; up to {MOST_MEMBERS} are read. Delete sheets that are "
                           "no part of the list, or save it as CSV.", limit=MOST_MEMBERS, counted="parts")
    try:
        return Archive(content, tuple(ZipFile(BytesIO(content)).infolist()))
    except (BadZipFile, ValueError, NotImplementedError) as fault:
        raise damaged("its directory cannot be read") from fault


def _directory(content: bytes) -> tuple[int, int]:
    """Where the directory begins and ends: right before the archive's end, which is the last thing in the file.

    Some programs write a second end, for large archives (ZIP64), whatever the size: it then stands between the two.
    """
    end = content.rfind(b"PK\5\6")
    if end < 0 or len(content) - end < _END.size:
        raise damaged("its end is missing, as after a transfer that was cut short")
    *_, size, start, comment = _END.unpack_from(content, end)
    if end + _END.size + comment == len(content):
        if start + size == end:
            return start, end
        large = end - _LARGE_LOCATOR - _LARGE_END.size
        if large >= 0 and content.startswith(b"PK\6\6", large) and content.startswith(b"PK\6\7", end - _LARGE_LOCATOR):
            *_, size, start = _LARGE_END.unpack_from(content, large)
            if start + size == large:
                return int(start), large
    raise damaged("its directory is not where it should be")


def shown(member: ZipInfo) -> str:
    """A member's name as it can be told."""
    return ascii(member.filename[:80])


def damaged(how: str) -> UnreadableFile:
    """The fault of an archive that is not in order."""
    return UnreadableFile(f"The workbook is damaged: {how}. Save it again in a spreadsheet program.", why="damaged")


def _pieces(packed: memoryview, member: ZipInfo) -> Iterator[bytes]:
    """What a member unpacks to, at most a CHUNK at a time whatever it is."""
    machine = zlib.decompressobj(-zlib.MAX_WBITS) if member.compress_type == ZIP_DEFLATED else None
    for start in range(0, len(packed), CHUNK):
        given: memoryview | bytes = packed[start:start + CHUNK]
        if machine is None:
            yield bytes(given)
        while machine is not None and given:
            try:
                yield machine.decompress(given, CHUNK)
            except zlib.error as fault:
                raise damaged(f"{shown(member)} cannot be unpacked") from fault
            given = machine.unconsumed_tail
