"""A real spreadsheet program, to write workbooks as people's programs write them: LibreOffice, headless."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

PROGRAM = "soffice"
TEXT_TYPE = "Text - txt - csv (StarCalc)"


def the_program() -> str:
    """Where the program is; skips where it is missing, unless on CI, where that fails."""
    found = shutil.which(PROGRAM)
    if found is None and os.environ.get("CI"):
        pytest.fail("No spreadsheet program to test with: soffice is not installed.")
    return found or pytest.skip("No spreadsheet program to test with: soffice is not installed.")


def opened_and_saved(file: Path, reading: str = "") -> bytes:
    """The file as a workbook (XLSX), after the program opened it. `reading` says how it opens it, where it must ask."""
    folder = file.parent
    filters = [f"--infilter={reading}"] if reading else []
    subprocess.run(
        [the_program(), "--headless", "--norestore", f"-env:UserInstallation={(folder / 'profile').as_uri()}", *filters,
         "--convert-to", "xlsx", "--outdir", str(folder / "saved"), str(file)],
        check=True, capture_output=True, timeout=120)
    return (folder / "saved" / file.with_suffix(".xlsx").name).read_bytes()


def as_text(delimiter: str, language: int) -> str:
    """How a table of text is opened: its delimiter, quotes, UTF-8, from line 1, by the numbers and dates of a language.

    Shape:   `language` is the language's number in Windows' list of locales (2057 is en-GB, 1031 is de-DE).
    Source:  LibreOffice's "Filter Options for CSV files": tokens 1 to 8, the last of which has numbers recognised.
    """
    return f"{TEXT_TYPE}:{ord(delimiter)},34,76,1,,{language},false,true"
