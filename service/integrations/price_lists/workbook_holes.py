"""Cells that the reader of workbooks gives as empty although a person sees something in them.

An error (#N/A, #REF!) is text to a person, and so it is here: a row whose price is #N/A says so, and does not look like
a row without a price. A formula that was never computed (some programs write workbooks without computing them) is told
as such, since opening the file and saving it again mends it.

Sheets without either, which is most, cost two searches of bytes.

Source: ECMA-376 part 1, clause 18.3 for cells (type "e") and their formulas, clause 18.2 for the sheets of a workbook.
"""

import re
from collections.abc import Iterator, Mapping
from html import unescape
from itertools import chain, islice
from zipfile import ZipInfo

from service.integrations.price_lists.archive import Archive
from service.integrations.price_lists.workbook_checks import LARGE, column_number

NOT_COMPUTED = "#formula not computed"
ERROR, FORMULA_END = b't="e"', b"</f>"
MOST_LOOKED_AT: Mapping[bytes, int] = {ERROR: 20_000, FORMULA_END: 200_000}
"""How many errors, and formulas, of a sheet are looked at. Those behind them stay empty."""

BEFORE, AFTER = 300, 2_500
"""How far the attributes of a cell reach before what gives it away, and how far its formula; no more is looked at."""

Holes = Mapping[int, Mapping[int, str]]
"""Text by row, counted from 1, and column, counted from 0."""

_CELL = re.compile(rb"<(?:\w{1,9}:)?c\b([^<>]{0,300})>")
_VALUE = re.compile(rb"<(?:\w{1,9}:)?v>([^<]{1,40})</")
_NO_VALUE = (b"</c>", b"<v></v></c>", b"<v/></c>", b"<v /></c>")
_PLACE = re.compile(rb"\br=\"([A-Z]{1,3})(\d{1,7})\"")
_SHEET = re.compile(rb"<(?:\w+:)?sheet\b([^<>]*)>")
_RELATION = re.compile(rb"<(?:\w+:)?Relationship\b([^<>]*)>")
_ATTRIBUTE = re.compile(rb"([\w:.-]{1,60})\s{0,9}=\s{0,9}(?:\"([^\"]*)\"|'([^']*)')")


def count_and_find_holes(archive: Archive) -> Mapping[str, Holes]:
    """Unpacks what a reader unpacks, holds it to the sizes that were declared, and finds each sheet's holes, by name.

    Raises:  UnreadableFile when a size was a lie.
    """
    found = {}
    for member in archive.members:
        if member.filename.endswith((".xml", ".rels")) and (signs := _signs_in(archive, member)):
            found[member.filename] = _holes(archive, member, signs)
    if not found:
        return {}
    return {name: found[part] for name, part in _sheets(archive).items() if part in found}


def _signs_in(archive: Archive, member: ZipInfo) -> set[bytes]:
    """Which signs of holes a sheet has. Unpacks the whole member, whatever it finds on the way."""
    missing = set(MOST_LOOKED_AT) if member.filename.startswith("xl/worksheets/") else set()
    found, tail = set(), b""
    for piece in archive.unpacked(member):
        if missing:
            seam = tail + piece[:8]
            found |= {sign for sign in missing if sign in piece or sign in seam}
            missing -= found
            tail = piece[-8:]
    return found


def _holes(archive: Archive, member: ZipInfo, signs: set[bytes]) -> Holes:
    holes: dict[int, dict[int, str]] = {}
    for sign in signs:
        for cell, text in islice(_looked_at(archive, member, sign), MOST_LOOKED_AT[sign]):
            place = _PLACE.search(cell) if text else None
            if place is not None:
                holes.setdefault(int(place[2]), {})[column_number(place[1]) - 1] = text
    return holes


def _looked_at(archive: Archive, member: ZipInfo, sign: bytes) -> Iterator[tuple[bytes, str]]:
    """For each such sign the attributes of its cell, and what a person sees there; nothing if it is no hole."""
    text_of, seen = _error if sign == ERROR else _not_computed, b""
    for piece in chain(archive.unpacked(member), (b" " * AFTER,)):
        # The last of a piece is looked at with the next, when what is behind it is there.
        begin = max(len(seen) - AFTER, 0)
        seen = seen[max(begin - AFTER, 0):] + piece
        end, place = len(seen) - AFTER, seen.find(sign, min(begin, AFTER))
        while 0 <= place < end:
            yield text_of(seen, place)
            place = seen.find(sign, place + 1)


def _error(seen: bytes, place: int) -> tuple[bytes, str]:
    cell = _CELL.match(seen, seen.rfind(b"<", max(place - BEFORE, 0), place))
    close = seen.find(b"</c>", place, place + AFTER)
    value = _VALUE.search(seen, place, close if close >= 0 else place + AFTER) if cell else None
    return (cell[1], unescape(value[1].decode("utf-8", "replace"))) if cell and value else (b"", "")


def _not_computed(seen: bytes, place: int) -> tuple[bytes, str]:
    """A formula without a value; one whose value is text may well have an empty one."""
    if not seen.startswith(_NO_VALUE, place + len(FORMULA_END)):
        return b"", ""
    cell = _CELL.match(seen, max(seen.rfind(b"<c ", max(place - AFTER, 0), place), 0))
    return (cell[1], NOT_COMPUTED) if cell and b't="str"' not in cell[1] else (b"", "")


def _sheets(archive: Archive) -> Mapping[str, str]:
    """Which part holds the sheet of a name."""
    parts = {member.filename: member for member in archive.members}
    texts = {name: b"".join(archive.unpacked(parts[name], LARGE)) if name in parts else b""
             for name in ("xl/workbook.xml", "xl/_rels/workbook.xml.rels")}
    targets = {each.get("Id", ""): each.get("Target", "")
               for each in map(_attributes, _RELATION.findall(texts["xl/_rels/workbook.xml.rels"]))}
    sheets = map(_attributes, _SHEET.findall(texts["xl/workbook.xml"]))
    return {each["name"]: _part(targets.get(each.get("r:id", ""), "")) for each in sheets if "name" in each}


def _attributes(text: bytes) -> dict[str, str]:
    return {name.decode(): unescape((double or single).decode("utf-8", "replace"))
            for name, double, single in _ATTRIBUTE.findall(text)}


def _part(target: str) -> str:
    """A relation's target as the archive names it: absolute, or below xl/."""
    return target[1:] if target.startswith("/") else f"xl/{target}"

