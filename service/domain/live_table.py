"""Live tables: sheets of a workbook as plain values, whose cells compute. Nothing here knows a file format.

A table has a title, a note, columns and rows; a cell is a label, an entry that people may change, a given number, or a
live formula beside the value that it has now. Rules that always hold:

- what people typed is a label or an entry, never part of a formula: a formula names cells and defined names alone;
- a formula is written once for its column: `{quantity}` is the cell of that column in the same row, `[quantity]` the
  same where it holds a number and not available where it does not, so that an empty entry is never taken for zero;
- a value of None is not known: spreadsheets say #N/A, and so does all that rests on it.

Example: "[amount]/({pack}*{factor})" in row 7 is `IF(ISNUMBER(D7),D7,NA())/(E7*F7)`.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

FIRST_ROW = 5
"""The spreadsheet row of the first line: title, note, bands and headers stand above."""

Number = Fraction | Decimal
_PART = re.compile(r"\{(\w+)\}|\[(\w+)\]")


@dataclass(frozen=True, slots=True)
class Label:
    """Text that stays text, whatever it begins with."""

    text: str


@dataclass(frozen=True, slots=True)
class Entry:
    """A cell made to be changed. None is not recorded: an empty cell, which is not zero."""

    value: Number | str | None
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Given:
    """A number that is no one's to change: a unit's own factor, one whole."""

    value: Number


@dataclass(frozen=True, slots=True)
class Live:
    """A formula, without its equals sign, and what it gives now. None: not available."""

    formula: str
    value: Number | str | None


Cell = Label | Entry | Given | Live


class Form(StrEnum):
    """How a column's cells are shown."""

    TEXT = "text"
    LONG_TEXT = "long text"
    NUMBER = "number"
    COST = "cost"
    MONEY = "money"
    PERCENT = "percent"
    SHARE = "share"


class Band(StrEnum):
    """What a column is for. The order is that of the columns: what it is, to change, the outcome, the way there."""

    NAMES = ""
    ENTRIES = "Yellow: change these"
    PUBLISHED = "Figures, as the service publishes them"
    WORKING = "Working, not rounded"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: what formulas call it, and what people read above it."""

    key: str
    header: str
    form: Form
    band: Band
    width: int = 12


@dataclass
class Table:
    """A sheet: filled row by row, from row FIRST_ROW on.

    Shape:   `fixed` columns stay in sight; lines that are alike in the column `group` belong together.
    """

    name: str
    title: str
    note: str
    columns: Sequence[Column]
    fixed: int = 1
    group: str = ""
    rows: list[Mapping[str, Cell]] = field(default_factory=list)
    _letters: dict[str, str] = field(init=False)

    def __post_init__(self) -> None:
        self._letters = {column.key: letters_of(place) for place, column in enumerate(self.columns)}

    @property
    def next_row(self) -> int:
        """Where the next line goes."""
        return FIRST_ROW + len(self.rows)

    def add(self, cells: Mapping[str, Cell]) -> int:
        """Add a line; the row it stands in. Columns that it leaves out stay empty."""
        row = self.next_row
        self.rows.append({key: self._placed(cell, row) if isinstance(cell, Live) else cell
                          for key, cell in cells.items()})
        return row

    def address(self, key: str, row: int) -> str:
        """A cell as other sheets name it: `'Dish lines'!$E$7`."""
        return f"'{self.name}'!${self._letters[key]}${row}"

    def span(self, key: str, first: int, last: int) -> str:
        """The cells of a column from one row to another: `'Dish lines'!$E$7:$E$12`."""
        return f"{self.address(key, first)}:${self._letters[key]}${last}"

    def sum(self, key: str, first: int, last: int) -> str:
        """The formula of their sum; nil where there are none."""
        return f"SUM({self.span(key, first, last)})" if last >= first else "0"

    def summed(self, key: str, first: int, last: int) -> Live:
        """The live sum of a column of formulas; not available as soon as one of them is."""
        values = [getattr(self.rows[row - FIRST_ROW].get(key), "value", None) for row in range(first, last + 1)]
        numbers = [Fraction(value) for value in values if isinstance(value, Fraction | Decimal)]
        return Live(self.sum(key, first, last),
                    sum(numbers, Fraction(0)) if len(numbers) == len(values) else None)

    def _placed(self, live: Live, row: int) -> Live:
        def cell(part: re.Match[str]) -> str:
            plain, known = part.groups()
            here = f"{self._letters[plain or known]}{row}"
            return here if plain else f"IF(ISNUMBER({here}),{here},NA())"

        return Live(_PART.sub(cell, live.formula), live.value)


def letters_of(place: int) -> str:
    """The letters of a column, counted from nil: 0 is A, 25 is Z, 26 is AA."""
    letters = ""
    place += 1
    while place:
        place, letter = divmod(place - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return letters


def known(name: str) -> str:
    """A defined name where it holds a number, and not available where it does not."""
    return f"IF(ISNUMBER({name}),{name},NA())"


def in_formula(value: Fraction) -> str:
    """An exact number inside a formula: `0.45359237`, or `(1/3)` where no decimals say it.

    Example: an ounce is 0.028349523125 kg, a US teaspoon (473176473/96000000000) l.
    """
    text = format(Decimal(value.numerator) / Decimal(value.denominator), "f")
    digits = text.replace(".", "").lstrip("0")
    return text if Fraction(text) == value and len(digits) <= 15 else f"({value.numerator}/{value.denominator})"
