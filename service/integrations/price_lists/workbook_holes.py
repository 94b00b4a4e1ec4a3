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
from zipfile import ZipInfo

from service.integrations.price_lists.archive import Archive
from service.integrations.price_lists.workbook_checks import LARGE, column_number

NOT_COMPUTED = "#formula not computed"
MOST_HOLES = 100_000
CARRIED = 4_096
"""How much of a piece is looked at again with the next: more than a cell of either kind is long."""

Holes = Mapping[int, Mapping[int, str]]
"""Text by row, counted from 1, and column, counted from 0."""

_ERROR = re.compile(rb"<(?:\w+:)?c\b([^<>]{0,300}\bt=\"e\"[^<>]{0,300})>(?:(?!</(?:\w+:)?c>).){0,1000}?"
                    rb"<(?:\w+:)?v>([^<]{1,40})</", re.DOTALL)
_UNCOMPUTED = re.compile(rb"<c\b([^<>]{0,300})><f\b[^<>]{0,300}>[^<]{0,2000}</f>(?:<v></v>|<v ?/>)?</c>")
_PLACE = re.compile(rb"\br=\"([A-Z]{1,3})(\d{1,7})\"")
_SHEET = re.compile(rb"<(?:\w+:)?sheet\b([^<>]*)>")
_RELATION = re.compile(rb"<(?:\w+:)?Relationship\b([^<>]*)>")
_ATTRIBUTE = re.compile(rb"([\w:.-]+)\s*=\s*(?:\"([^\"]*)\"|'([^']*)')")


def count_and_find_holes(archive: Archive) -> Mapping[str, Holes]:
    """Unpacks what a reader unpacks, holds it to the sizes that were declared, and finds each sheet's holes, by name.

    Raises:  UnreadableFile when a size was a lie.
    """
    found = {}
    for member in archive.members:
        if member.filename.endswith((".xml", ".rels")) and _may_have_holes(archive, member):
            found[member.filename] = _holes(archive, member)
    if not found:
        return {}
    return {name: found[part] for name, part in _sheets(archive).items() if part in found}


def _may_have_holes(archive: Archive, member: ZipInfo) -> bool:
    """Unpacks the whole member, whatever it finds on the way."""
    is_sheet = member.filename.startswith("xl/worksheets/")
    found, tail = False, b""
    for piece in archive.unpacked(member):
        if is_sheet and not found:
            found = b't="e"' in piece or b"</f>" in piece or _on_the_seam(tail, piece)
            tail = piece[-8:]
    return found


def _on_the_seam(tail: bytes, piece: bytes) -> bool:
    seam = tail + piece[:8]
    return b't="e"' in seam or b"</f>" in seam


def _holes(archive: Archive, member: ZipInfo) -> Holes:
    holes: dict[int, dict[int, str]] = {}
    for attributes, text in _matches(archive, member):
        place = _PLACE.search(attributes)
        if place is not None and len(holes) < MOST_HOLES:
            row, column = int(place[2]), column_number(place[1]) - 1
            holes.setdefault(row, {})[column] = text
    return holes


def _matches(archive: Archive, member: ZipInfo) -> Iterator[tuple[bytes, str]]:
    seen = b""
    for piece in archive.unpacked(member):
        seen = seen[-CARRIED:] + piece
        for found in _ERROR.finditer(seen):
            yield found[1], unescape(found[2].decode("utf-8", "replace"))
        # A formula whose value is text may well have an empty one.
        yield from ((found[1], NOT_COMPUTED) for found in _UNCOMPUTED.finditer(seen) if b't="str"' not in found[1])


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

