"""Containers that lie about what they hold: archives and compound files, written byte by byte where no writer would."""

import struct
import zlib

from tests.integrations.price_lists.workbooks import packed

SECTOR = 512
_NOT_USED, _END, _TABLE = 0xFFFFFFFF, 0xFFFFFFFE, 0xFFFFFFFD


def compound_file(streams: tuple[str, ...]) -> bytes:
    """An OLE2 container with streams of those names, by [MS-CFB]: header, one sector of table, one of directory."""
    signature = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
    header = struct.pack("<8s16x5H6x9L", signature, 0x3E, 3, 0xFFFE, 9, 6, 0, 1, 1, 0, 4096, _END, 0, _END, 0)
    header += struct.pack("<109L", 0, *[_NOT_USED] * 108)
    table = struct.pack("<128L", _TABLE, _END, *[_NOT_USED] * 126)
    entries = [_entry("Root Entry", 5, 1)] + [_entry(name, 2, _NOT_USED) for name in streams]
    return header + table + b"".join(entries).ljust(SECTOR, b"\0")


def _entry(name: str, kind: int, child: int) -> bytes:
    text = name.encode("utf-16-le") + b"\0\0"
    return struct.pack("<64sHBB3L36xL2L", text, len(text), kind, 1, _NOT_USED, _NOT_USED, child, _END, 0, 0)


def flagged_as_encrypted(content: bytes) -> bytes:
    """The archive with the flag of encryption (bit 0) set on its first member."""
    changed = bytearray(content)
    changed[6] |= 1
    changed[content.index(b"PK\1\2") + 8] |= 1
    return bytes(changed)


def admitting_to(members: int, content: bytes) -> bytes:
    """The archive with an end that says how many members it has, whatever its directory lists."""
    changed = bytearray(content)
    struct.pack_into("<2H", changed, content.rindex(b"PK\5\6") + 8, members, members)
    return bytes(changed)


def with_repeated(content: bytes, name: str, head: bytes, block: bytes, times: int, tail: bytes) -> bytes:
    """The archive with one member put in that is a block many times over, packed once: at once, and in little memory.

    A full flush ends the packed block at a whole byte and forgets what was before it (RFC 1951, 3.2.4), so that the
    block may stand there as often as one likes.
    """
    packer = zlib.compressobj(9, zlib.DEFLATED, -zlib.MAX_WBITS)
    begin = packer.compress(head) + packer.flush(zlib.Z_FULL_FLUSH)
    middle = packer.compress(block) + packer.flush(zlib.Z_FULL_FLUSH)
    body = begin + middle * times + packer.compress(tail) + packer.flush()
    size, crc = len(head) + len(block) * times + len(tail), zlib.crc32(head)
    for _ in range(times):
        crc = zlib.crc32(block, crc)
    crc = zlib.crc32(tail, crc)
    start = content.index(b"PK\1\2")
    known, count = content[start:content.index(b"PK\5\6")], content.count(b"PK\1\2") + 1
    encoded = name.encode()
    member = struct.pack("<4s5H3L2H", b"PK\3\4", 20, 0, 8, 0, 0, crc, len(body), size, len(encoded), 0) + encoded + body
    entry = struct.pack("<4s6H3L5H2L", b"PK\1\2", 20, 20, 0, 8, 0, 0, crc, len(body), size, len(encoded), 0, 0, 0, 0, 0,
                        start) + encoded
    listed = known + entry
    end = struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, count, count, len(listed), start + len(member), 0)
    return content[:start] + member + listed + end


def overlapping(copies: int = 150) -> bytes:
    """A bomb of one member that the directory lists many times: every name the same bytes."""
    one = packed({"xl/worksheets/sheet1.xml": b"0" * 500_000})
    start = one.index(b"PK\1\2")
    end = one.index(b"PK\5\6")
    entry = bytearray(one[start:end])
    listed = b""
    for number in range(copies):
        entry[46:46 + 24] = f"xl/worksheets/s{number:05}.xml".encode()[:24]
        listed += bytes(entry)
    return one[:start] + listed + struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, copies, copies, len(listed), start, 0)


def quoting(layers: int = 100, kernel: bytes = b"0" * 1_000_000) -> bytes:
    """A bomb whose members quote the ones behind them: each begins with a stored block that is the next one's header.

    So every member unpacks to all that is behind it, and all of it is a valid archive. The scheme is described by
    D. Fifield, "A better zip bomb" (WOOT 2019).
    """
    packer = zlib.compressobj(9, zlib.DEFLATED, -zlib.MAX_WBITS)
    body, size, crc = packer.compress(kernel) + packer.flush(), len(kernel), zlib.crc32(kernel)
    plain, packed_bytes, directory = kernel, body, []
    members = b""
    for number in range(layers):
        name = f"xl/worksheets/sheet{layers - number}.xml".encode()
        header = struct.pack("<4s5H3L2H", b"PK\3\4", 20, 0, 8, 0, 0, crc, len(packed_bytes), size, len(name), 0)
        header += name
        directory.insert(0, (name, crc, len(packed_bytes), size))
        members = header + packed_bytes
        plain = header + plain
        packed_bytes = struct.pack("<BHH", 0, len(header), len(header) ^ 0xFFFF) + members
        size, crc = size + len(header), zlib.crc32(plain)
    return _with_directory(members, directory)


def _with_directory(members: bytes, directory: list[tuple[bytes, int, int, int]]) -> bytes:
    listed, place = b"", 0
    for name, crc, packed_size, size in directory:
        place = members.index(b"PK\3\4", place)
        listed += struct.pack("<4s6H3L5H2L", b"PK\1\2", 20, 20, 0, 8, 0, 0, crc, packed_size, size, len(name), 0, 0, 0,
                              0, 0, place) + name
        place += 1
    count = len(directory)
    return members + listed + struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, count, count, len(listed), len(members), 0)

