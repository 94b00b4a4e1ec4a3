"""Cells of a table, whatever file it came from, and text as people typed it.

A workbook gives typed cells, CSV gives text alone. Text that begins with `=`, `+`, `-` or `@` is text: nothing here
ever computes. What a spreadsheet would take for a formula is protected by one leading apostrophe on the way out, and
exactly one is taken off on the way in; text that has an apostrophe there by itself gets another, so that the way is
lossless.

Source: OWASP on CSV injection, for what a spreadsheet takes for the start of a formula.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from unicodedata import normalize

Cell = str | Decimal | date | None

LONGEST_SHOWN = 80
FORMULA_STARTS = frozenset("=+-@\t\r\n\0\uff1d\uff0b\uff0d\uff20")


def protected(text: str) -> str:
    """Text as it goes into a cell of a CSV file.

    Example: "=1+1" is "'=1+1", "'=1+1" is "''=1+1", "beef" is "beef".
    """
    return "'" + text if _is_formula_like(text) else text


def protected_in_workbook(text: str) -> str:
    """Text as it goes into a text cell of a workbook, which never is a formula: what has an apostrophe gets another."""
    return protected(text) if text[:1] == "'" else text


def unprotected(text: str) -> str:
    """The text that `protected` was given."""
    return text[1:] if text[:1] == "'" and _is_formula_like(text) else text


def texts(column: Iterable[Cell]) -> list[str]:
    """A column as text without blanks around it, in Unicode's composed form, line ends and other controls as blanks."""
    cells = as_text(column)
    whole = "".join(cells)
    if whole.isascii() and whole.isprintable() and "'" not in whole:
        return list(map(str.strip, cells))
    return [text if (text := cell.strip()).isascii() and text.isprintable() and text[:1] != "'" else _tidied(text)
            for cell in cells]


def as_text(column: Iterable[Cell]) -> Sequence[str]:
    """A column as text, as it stands in the cells: numbers without exponent or needless zeros, days as in ISO 8601."""
    cells = column if isinstance(column, list | tuple) else list(column)
    if all_text(cells):
        return cells  # type: ignore[return-value]  # all are text
    return [cell if isinstance(cell, str) else typed_as_text(cell) for cell in cells]


def shown(text: str) -> str:
    """A cell's text as a sentence shows it: in quotes, with what cannot be seen spelt out, and not endless."""
    return repr(text if len(text) <= LONGEST_SHOWN else text[:LONGEST_SHOWN] + "...")


def all_text(column: Iterable[Cell]) -> bool:
    """Whether all cells of a column are text, as in a CSV file. Joining finds the first that is not the fastest."""
    try:
        "".join(column)  # type: ignore[arg-type]  # whether it is text is the question
    except TypeError:
        return False
    return True


def typed_as_text(cell: Decimal | date | None) -> str:
    """A cell that is not text, as text."""
    if cell is None:
        return ""
    if isinstance(cell, Decimal):
        plain = format(cell, "f")
        return plain.rstrip("0").rstrip(".") if "." in plain else plain
    return cell.isoformat()


def _is_formula_like(text: str) -> bool:
    return text.lstrip("'")[:1] in FORMULA_STARTS and text.lstrip("'") != ""


def _tidied(text: str) -> str:
    if not text.isprintable():
        text = " ".join("".join(each if each.isprintable() else " " for each in text).split())
    return unprotected(normalize("NFC", text)).strip()
