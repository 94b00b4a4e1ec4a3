"""The short form of fuzzing readers, what it once found, and that it can fail."""

import random
from collections import Counter
from pathlib import Path

import pytest

from service.domain.errors import UnreadableFile
from tests.reliability.fuzz_readers import PROGRAMME, one
from tests.reliability.programme import Run
from tests.reliability.readers import READERS, Reader, records_of


def test_every_reader_gives_what_files_say_or_a_documented_fault(tmp_path: Path) -> None:
    verdict = PROGRAMME.run(Run(PROGRAMME.short, "", tmp_path))
    assert verdict.passed, verdict.faults


def broken(content: bytes) -> str | None:
    if content == b"odd":
        raise KeyError("odd")
    if content == b"refused":
        raise UnreadableFile("no", why="x")
    return "half of it" if content == b"half" else None


@pytest.mark.parametrize(("content", "whole", "told"), [
    (b"odd", False, "KeyError"), (b"half", False, "half of it"), (b"refused", True, "refused, and valid"),
    (b"refused", False, None), (b"fine", True, None)])
def test_what_goes_wrong_is_told(content: bytes, whole: bool, told: str | None) -> None:
    reader = Reader(lambda _: b"", broken, (UnreadableFile,))
    found = one("made up", reader, content, Counter(), whole)
    assert [told in each for each in found] == ([True] if told else [])


def test_every_frame_is_read(tmp_path: Path) -> None:
    """A generator whose files are all refused would find nothing."""
    for name in ("price_list_csv", "price_list_xlsx", "price_list_xml", "sales_csv", "json_body", "cursors"):
        with READERS[name](tmp_path) as reader:
            for seed in range(5):
                assert reader.read(reader.frame(random.Random(seed))) is None, name


def test_records_are_counted_by_the_standard() -> None:
    """Source: RFC 4180 section 2, items 1 to 7."""
    assert records_of('a,b\r\n"x, ""y""\r\nz",2\r\n', ",") == [["a", "b"], ['x, "y"\r\nz', "2"]]
    assert records_of('a;"b"', ";") == [["a", "b"]]
    assert records_of('"a', ",") is None
