"""Tables as aligned text: figures to the right, words to the left, two blanks between columns."""

import re
import unicodedata
from collections.abc import Sequence

_FIGURE = re.compile(r"(>= )?-?\d+(\.\d+)?( %)?", re.ASCII)


def text_table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """The rows under their headings. A column whose every filled cell is a figure is aligned to the right."""
    columns = [list(column) for column in zip(headings, *rows, strict=True)]
    widths = [max(_width(cell) for cell in column) for column in columns]
    right = [any(column[1:]) and all(_FIGURE.fullmatch(cell) for cell in column[1:] if cell) for column in columns]
    lines = [headings, ["-" * width for width in widths], *rows]
    return "\n".join("  ".join(_padded(cell, width, is_right) for cell, width, is_right in
                               zip(line, widths, right, strict=True)).rstrip() for line in lines)


def _padded(cell: str, width: int, is_right: bool) -> str:
    gap = " " * (width - _width(cell))
    return gap + cell if is_right else cell + gap


def _width(cell: str) -> int:
    """How many columns a terminal gives the text: none for combining marks, two for wide characters."""
    return sum(0 if unicodedata.combining(character) else 2 if unicodedata.east_asian_width(character) in "WF" else 1
               for character in cell)
