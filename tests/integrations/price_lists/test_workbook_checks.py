"""What is told of an archive before anything of it is unpacked, each with its own sentence."""

from collections.abc import Callable

import pytest

from service.domain.errors import FileTooLarge, UnreadableFile
from service.integrations.price_lists.archive import Archive
from service.integrations.price_lists.workbook_checks import checked_archive, column_number, refuse_old_workbook
from service.integrations.price_lists.workbook_holes import count_and_find_holes
from tests.integrations.price_lists.hostile.containers import (
    admitting_to,
    compound_file,
    flagged_as_encrypted,
    overlapping,
    quoting,
)
from tests.integrations.price_lists.workbooks import (
    SHEET,
    a_workbook,
    declaring,
    packed,
    parts_of,
    with_part,
    with_sheet,
)

TYPES = "[Content_Types].xml"


def checked(content: bytes) -> Archive:
    return checked_archive(content)


def with_types(change: Callable[[bytes], bytes]) -> bytes:
    return with_part(TYPES, change(parts_of(a_workbook())[TYPES]))


def test_an_honest_workbook_passes() -> None:
    archive = checked(a_workbook())
    assert SHEET in {member.filename for member in archive.members}
    assert count_and_find_holes(archive) == {}


@pytest.mark.parametrize(("content", "why", "sentence"), [
    (with_part("xl/vbaProject.bin", b"x"), "macros", "has macros"),
    (with_types(lambda types: types.replace(b"openxmlformats-officedocument.spreadsheetml.sheet.main",
                                            b"ms-excel.sheet.macroEnabled.main")), "macros", "has macros"),
    (packed({"mimetype": b"application/vnd.oasis.opendocument.spreadsheet", "content.xml": b"<x/>"}), "opendocument",
     "OpenDocument"),
    (packed({"letter.txt": b"Dear all"}), "not-a-workbook", "no workbook"),
    (with_types(lambda types: types.replace(b"spreadsheetml.sheet.main", b"wordprocessingml.document.main")),
     "not-a-workbook", "no workbook"),
    (with_part("../../etc/cron.d/x", b"x"), "unsafe-name", "unsafe name"),
    (with_part("/etc/passwd", b"x"), "unsafe-name", "unsafe name"),
    (with_part("xl\\..\\x", b"x"), "unsafe-name", "unsafe name"),
    (flagged_as_encrypted(a_workbook()), "encrypted", "without a password"),
    (overlapping(), "damaged", "overlaps|one name"),
    (quoting(), "damaged", "overlaps"),
    (a_workbook()[:3000], "damaged", "cut short"),
    (a_workbook() + b"trailing", "damaged", "not where it should be"),
    (b"leading" + a_workbook(), "damaged", "not where it should be"),
])
def test_what_is_no_plain_workbook_is_named(content: bytes, why: str, sentence: str) -> None:
    with pytest.raises(UnreadableFile, match=sentence) as refused:
        checked(content)
    assert refused.value.more["why"] == why


@pytest.mark.parametrize(("content", "sentence", "limit"), [
    (packed({f"part{number}.xml": b"<x/>" for number in range(201)}), "201 parts", 200),
    (admitting_to(10, packed({f"part{number}.xml": b"<x/>" for number in range(300)})), "300 parts", 200),
    (declaring(with_part("xl/media/image1.png", b"x" * 5000), "xl/media/image1.png", 105_000_000), "unpacks to",
     104_857_600),
    (with_part("xl/sharedStrings.xml", b" " * 2_000_000), "more than 100 times", 100),
    (with_sheet(lambda sheet: sheet.replace('ref="A1:D2"', 'ref="A1:D1073741824"')), "1,073,741,824 rows", 100_000),
    (with_sheet(lambda sheet: sheet.replace('ref="A1:D2"', 'ref="A1:XFD2"')), "16,384 columns", 256),
])
def test_what_is_too_large_is_named(content: bytes, sentence: str, limit: int) -> None:
    with pytest.raises(FileTooLarge, match=sentence) as refused:
        checked(content)
    assert refused.value.more["limit"] == limit


@pytest.mark.parametrize("declared", [200, 60_000])
def test_a_size_that_lies_is_found_while_unpacking(declared: int) -> None:
    archive = checked(declaring(with_part("xl/styles.xml", b"<styleSheet>" + b" " * 40_000 + b"</styleSheet>"),
                                "xl/styles.xml", declared))
    with pytest.raises(UnreadableFile, match=r"styles\.xml.* not of the size") as refused:
        count_and_find_holes(archive)
    assert refused.value.more["why"] == "sizes-lie"


@pytest.mark.parametrize(("streams", "why"), [
    (("EncryptionInfo", "EncryptedPackage"), "encrypted"), (("Workbook",), "old-workbook"), (("Book",), "old-workbook"),
    (("WordDocument",), "not-a-workbook"),
])
def test_containers_of_old_are_told_apart(streams: tuple[str, ...], why: str) -> None:
    with pytest.raises(UnreadableFile) as refused:
        refuse_old_workbook(compound_file(streams))
    assert refused.value.more["why"] == why


def test_what_is_no_such_container_is_left_alone() -> None:
    assert refuse_old_workbook(a_workbook()) is None


@pytest.mark.parametrize(("letters", "number"), [(b"A", 1), (b"Z", 26), (b"AA", 27), (b"IV", 256), (b"XFD", 16_384)])
def test_columns_have_numbers(letters: bytes, number: int) -> None:
    """IV and XFD are the last columns of the two kinds of sheet: 2 to the 8th, and 2 to the 14th (ECMA-376)."""
    assert column_number(letters) == number
