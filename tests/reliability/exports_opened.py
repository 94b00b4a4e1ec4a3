"""The tables of the exports, opened by a real spreadsheet program: LibreOffice, headless.

CSV is opened twice: with every cell taken as text, where each must be the very cell; and in the worst manner, numbers
recognised and formulas computed, where no text may have become anything but the number or the day that it looks like.
"""

import csv
import io
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from tests.integrations.workbook.live_program import live_program
from tests.integrations.workbook.published_cells import rows_of
from tests.stories.linked_sheets import COMPUTED, ENGLISH, linked_sheets

Rows = list[list[Any]]
_LOOKS_COUNTED = re.compile(r"[\d.,:/ \-+%eE]*\d[\d.,:/ \-+%eE]*|(?i:true|false)")
"""What a program may take for a number, a day, a time or a truth."""


def opened_by_the_program(folder: Path, tables: Mapping[str, bytes], dishes: Mapping[str, Mapping[str, Any]]
                          ) -> list[str]:
    """What is wrong with the tables as the program shows them."""
    faults: list[str] = []
    for place in ("sheets", "book"):
        (folder / place).mkdir()
    with linked_sheets(folder / "sheets") as sheets:
        for name in (name for name in tables if name.endswith(".csv")):
            path = folder / name
            path.write_bytes(tables[name])
            cells = list(csv.reader(io.StringIO(tables[name].decode(), newline="")))
            all_text = "/".join(f"{column}/2" for column in range(1, len(cells[0]) + 1))
            shown = sheets.opened(path.as_uri(), reading=f"44,34,76,1,{all_text},{ENGLISH},false,false")
            faults += [f"{name} as text: {fault}" for fault in _differences(shown, cells, exactly=True)]
            shown = sheets.opened(path.as_uri(), reading=COMPUTED)
            faults += [f"{name}, all recognised: {fault}" for fault in _differences(shown, cells, exactly=False)]
    with live_program(folder / "book") as program:
        shown = rows_of(program.opened(tables["workbook.xlsx"]), "Dishes")
    faults += [f"{header} of {code} is {shown[code][header]!r} in the program's workbook, not {row[column]!r}"
               for code, row in dishes.items() for column, header in (("name", "Dish"), ("section", "Section"))
               if shown[code][header] != row[column]]
    return faults + [f"the food cost of {code} is {shown[code]['Food cost, GBP']!r} there, not {row['food_cost']}"
                     for code, row in dishes.items()
                     if f"{float(shown[code]['Food cost, GBP']):.4f}" != row["food_cost"]]


def _differences(shown: Rows, cells: list[list[str]], exactly: bool) -> Iterator[str]:
    """Where the program shows something else than stands in the file: other cells, or more or fewer of them."""
    if len(shown) != len(cells):
        yield f"{len(shown)} rows, not {len(cells)}"
        return
    for number, (row, expected) in enumerate(zip(shown, cells, strict=True), 1):
        if len(row) != len(expected):
            yield f"{len(row)} columns in row {number}, not {len(expected)}"
            continue
        for cell, text in zip(row, expected, strict=True):
            if exactly:
                wrong = str(cell) != text
            elif isinstance(cell, float):
                wrong = not _LOOKS_COUNTED.fullmatch(text.strip())
            else:
                wrong = cell != text
            if wrong:
                yield f"{cell!r} is shown of {text!r}"
