"""Tables as CSV: for spreadsheets, whole, with the figures as the JSON answers have them.

Rules that always hold: CRLF, a header row, UTF-8, a point in numbers, ISO dates; text that a spreadsheet would take for
a formula gets a leading apostrophe, by the type of its column, so that no number is ever changed; text that has one
already gets another, so that whoever reads the table back can take exactly one away.

Source: RFC 4180, RFC 7111; RFC 6266 and RFC 8187 for the file's name; OWASP on CSV injection.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any
from urllib.parse import quote

MEDIA_TYPE = "text/csv; charset=utf-8; header=present"
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_QUOTED = frozenset(',"\r\n')


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its name in the header and in each row; `free_text` is what people typed."""

    name: str
    free_text: bool = False


def csv_bytes(columns: Sequence[Column], rows: Iterable[Mapping[str, Any]]) -> bytes:
    """The rows as CSV; a member that is absent or None is an empty cell, a list is joined by blanks."""
    lines = [",".join(_quoted(column.name) for column in columns)]
    lines += [",".join(_cell(column, row.get(column.name)) for column in columns) for row in rows]
    return "\r\n".join([*lines, ""]).encode()


def disposition(filename: str) -> str:
    """A Content-Disposition with the name in ASCII, and in full."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "._-") else "_" for c in filename)
    return f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(filename, safe='')}"


def _cell(column: Column, value: Any) -> str:
    if value is None:
        return ""
    if column.free_text:
        text = str(value)
        return _quoted("'" + text if text.lstrip("'").startswith(_FORMULA_STARTS) else text)
    return _quoted(_plain(value))


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, date):
        return value.isoformat()
    return " ".join(map(str, value)) if isinstance(value, list | tuple) else str(value)


def _quoted(text: str) -> str:
    if _QUOTED.isdisjoint(text) and text == text.strip(" "):
        return text
    return '"' + text.replace('"', '""') + '"'
