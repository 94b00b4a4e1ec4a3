"""Hostile files, each read as the service reads it in a process of its own whose time and memory are measured.

Each is refused with one of the three faults and a sentence that says why, within 2 seconds and 300 MB. The seconds are
those that processors worked for it, parent and reader together, so that a machine that is busy with other things does
not fail the test; the time on the wall may be five times that, which a reader that hangs or sleeps would pass.
"""

import json
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from service.domain.errors import Fault
from service.integrations.price_lists.reading import read_price_file
from service.use_cases.price_files import HowToRead
from tests.integrations.price_lists.hostile.hostile_documents import HOSTILE_DOCUMENTS
from tests.integrations.price_lists.hostile.hostile_tables import HOSTILE_TABLES
from tests.integrations.price_lists.hostile.hostile_workbooks import HOSTILE_WORKBOOKS
from tests.integrations.price_lists.ubl_documents import a_catalogue, a_line, a_price, an_item
from tests.integrations.price_lists.workbooks import a_workbook, many_rows, parts_of, with_part

CANARY = "canary-of-a-file-beside"
STRINGS = "xl/sharedStrings.xml"
MOST_SECONDS = 2.0
MOST_MIB = 300
ON_A_BUSY_MACHINE = 5
FAULTS = {"UnreadableFile", "ColumnsNotRecognised", "FileTooLarge"}
CORPUS = {**HOSTILE_WORKBOOKS, **HOSTILE_DOCUMENTS, **HOSTILE_TABLES}


def measured(content: bytes, folder: Path) -> dict[str, Any]:
    file = folder / "price-list"
    file.write_bytes(content)
    ran = subprocess.run([sys.executable, "-m", "tests.integrations.price_lists.hostile.measured", str(file)],
                         capture_output=True, timeout=120, check=True)
    found: dict[str, Any] = json.loads(ran.stdout)
    return found


@pytest.mark.parametrize("name", CORPUS)
def test_a_hostile_file_is_refused_in_time_and_memory(name: str, tmp_path: Path) -> None:
    make, words = CORPUS[name]
    found = measured(make(), tmp_path)
    assert found["outcome"] in FAULTS, found
    assert re.search(words, found["detail"]), found
    assert 20 < len(found["detail"]) < 800, found
    assert found["cpu_seconds"] <= MOST_SECONDS, found
    assert found["wall_seconds"] <= MOST_SECONDS * ON_A_BUSY_MACHINE, found
    assert found["peak_mib"] <= MOST_MIB, found


def naming(file: Path) -> dict[str, bytes]:
    """Files that ask their reader to put the text of a file into what it reads, each in its own way."""
    listed = a_catalogue(a_line(a_price(), item=an_item(name="NAME"))).decode()
    typed = "?><!DOCTYPE Catalogue {}>"

    def catalogue(doctype: str, name: str) -> bytes:
        return listed.replace("?>", typed.format(doctype) if doctype else "?>", 1).replace("NAME", name).encode()

    strings = parts_of(a_workbook())[STRINGS]
    entity = f'[<!ENTITY x SYSTEM "file://{file}">]'
    return {
        "external entity": catalogue(entity, "&x;"),
        "entity by parameter": catalogue(f'[<!ENTITY % p SYSTEM "file://{file}"> %p;]', "&x;"),
        "external document type": catalogue(f'SYSTEM "file://{file}"', "&x;"),
        "inclusion": catalogue(
            "", f'<i:include xmlns:i="http://www.w3.org/2001/XInclude" parse="text" href="{file}"/>'),
        "external entity in a workbook": with_part(STRINGS, strings.replace(
            b"?>", f"?><!DOCTYPE sst {entity}>".encode(), 1).replace(b"Beef topside", b"&x;"))}


@pytest.mark.parametrize("how", naming(Path()))
def test_no_file_of_the_machine_is_read_into_a_list(how: str, tmp_path: Path) -> None:
    """CWE-611: the text of a file that is named is in nothing that was read, nor in what is told of a refusal."""
    (tmp_path / "canary").write_text(CANARY)
    found = everything_told(naming(tmp_path / "canary")[how])
    assert len(found) > 40
    assert CANARY not in found, found


@pytest.mark.parametrize("content", [
    a_catalogue(a_line(a_price(), item=an_item(name=f"Topside {CANARY}"))),
    a_workbook({"Prices": [["Code", "Description", "Unit", "Price"], ["1", f"Topside {CANARY}", "kg", 14.2]]})],
    ids=["document", "workbook"])
def test_a_text_that_is_read_is_found_by_the_same_look(content: bytes) -> None:
    assert CANARY in everything_told(content)


def everything_told(content: bytes) -> str:
    """All that a reader says of a file: its rows, or its refusal."""
    try:
        return repr(read_price_file(content, HowToRead({})))
    except Fault as fault:
        return f"{type(fault).__name__} {fault.detail} {fault.more}"


@pytest.mark.parametrize("content", [a_workbook(), a_catalogue(a_line(a_price())), b"Code,Price\n10-2345,14.20\n"])
def test_an_honest_file_is_read_by_the_same_measure(content: bytes, tmp_path: Path) -> None:
    found = measured(content, tmp_path)
    assert (found["outcome"], found["detail"]) == ("read", "1 rows")


@pytest.mark.parametrize("make", [many_rows, lambda count: a_table(count).encode()], ids=["workbook", "table"])
def test_a_hundred_thousand_rows_are_read_and_one_more_is_not(make: Callable[[int], bytes], tmp_path: Path) -> None:
    """What is refused above is not refused for its size; and the limit is where it is said to be."""
    read, refused = measured(make(100_000), tmp_path), measured(make(100_001), tmp_path)
    assert (read["outcome"], read["detail"]) == ("read", "100000 rows")
    assert refused["outcome"] == "FileTooLarge"
    assert "100,000" in refused["detail"]
    assert max(read["peak_mib"], refused["peak_mib"]) <= MOST_MIB, (read, refused)


def a_table(count: int) -> str:
    """A table of so many rows, as text."""
    return "Code,Description,Unit,Price\n" + "".join(f"10-{number},Beef,kg,1.5\n" for number in range(count))
