"""A real spreadsheet program whose sheets are linked to addresses of the service: LibreOffice, headless."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.integrations.price_lists.spreadsheet_program import TEXT_TYPE, as_text
from tests.integrations.workbook.live_program import LiveProgram, live_program

INSIDE = Path(__file__).with_name("inside_the_sheet.py")
ENGLISH, GERMAN = 2057, 1031
"""Windows' numbers of en-GB and de-DE: which decimal mark a program reads numbers by."""
COMPUTED = f"44,34,76,1,,{ENGLISH},false,true,false,false,false,0,true"
"""A table opened in the worst manner: numbers and days recognised, and what looks like a formula computed.

Source:  LibreOffice's "Filter Options for CSV files": tokens 8 and 13.
"""

Rows = list[list[Any]]


@dataclass
class LinkedSheets:
    """A document with one sheet that may be linked, and one that computes."""

    program: LiveProgram

    def opened(self, url: str, delimiter: str = ",", language: int = ENGLISH, reading: str = "") -> Rows:
        """A table opened by its address; `reading` are all options of it, in place of delimiter and language."""
        rows = self.program.ask({"do": "open", "url": url, "reading": reading or _reading(delimiter, language)})
        assert rows is not None, "the spreadsheet program could not open the table"
        return list(rows)

    def linked(self, url: str, delimiter: str = ",", language: int = ENGLISH) -> Rows:
        """The sheet, linked to a table."""
        return list(self.program.ask({"do": "link", "url": url, "reading": _reading(delimiter, language)}))

    def refreshed(self) -> Rows:
        """The sheet after its link was refreshed."""
        return list(self.program.ask({"do": "refresh"}))

    def computed(self, formulas: Sequence[str]) -> list[tuple[str, float, int]]:
        """What formulas give: text, number and error."""
        return [(text, value, error) for text, value, error in self.program.ask({"do": "compute",
                                                                                 "formulas": list(formulas)})]


@contextmanager
def linked_sheets(folder: Path) -> Iterator[LinkedSheets]:
    """The program with an empty document."""
    with live_program(folder, INSIDE) as program:
        yield LinkedSheets(program)


def _reading(delimiter: str, language: int) -> str:
    return as_text(delimiter, language).removeprefix(f"{TEXT_TYPE}:")
