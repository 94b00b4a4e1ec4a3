"""Tables as CSV: for spreadsheets, whole, with the figures as the JSON answers have them.

Rules that always hold: CRLF, a header row, UTF-8, ISO dates; text that a spreadsheet would take for a formula gets a
leading apostrophe, by the type of its column, so that no number is ever changed; text that has one already gets
another, so that whoever reads the table back can take exactly one away. Commas, points and empty cells, unless a form
says otherwise.

Source: RFC 4180, RFC 7111; RFC 6266 and RFC 8187 for the file's name; OWASP on CSV injection.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any
from urllib.parse import quote

MEDIA_TYPE = "text/csv; charset=utf-8; header=present"
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "\uff1d", "\uff0b", "\uff0d", "\uff20")


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its name in the header and in each row; `free_text` is what people typed, `figure` what is counted."""

    name: str
    free_text: bool = False
    figure: bool = False


@dataclass(frozen=True, slots=True)
class Form:
    """How a table is written: its delimiter and decimal mark, what stands where a figure is not known, and whether a
    byte order mark says that it is UTF-8."""

    delimiter: str = ","
    decimal: str = "."
    unknown: str = ""
    bom: bool = False
    quoted: frozenset[str] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "quoted", frozenset(f'{self.delimiter}"\r\n'))


PLAIN = Form()


def csv_bytes(columns: Sequence[Column], rows: Iterable[Mapping[str, Any]], form: Form = PLAIN) -> bytes:
    """The rows as CSV; a member that is absent or None is an empty cell, a list is joined by blanks."""
    lines = [form.delimiter.join(_quoted(column.name, form) for column in columns)]
    lines += [form.delimiter.join(_cell(column, row.get(column.name), form) for column in columns) for row in rows]
    return ("\ufeff" * form.bom + "\r\n".join([*lines, ""])).encode()


def value_text(column: Column, value: Any, form: Form) -> str:
    """One value by itself, as its column has it but neither quoted nor guarded."""
    if value is None:
        return form.unknown if column.figure else ""
    text = _plain(value)
    return text.replace(".", form.decimal) if column.figure and form.decimal != "." else text


def disposition(filename: str) -> str:
    """A Content-Disposition with the name in ASCII, and in full."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "._-") else "_" for c in filename)
    return f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(filename, safe='')}"


def _cell(column: Column, value: Any, form: Form) -> str:
    text = value_text(column, value, form)
    if column.free_text and text.lstrip("'").startswith(_FORMULA_STARTS):
        text = "'" + text
    return _quoted(text, form)


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, date):
        return value.isoformat()
    return " ".join(map(str, value)) if isinstance(value, list | tuple) else str(value)


def _quoted(text: str, form: Form) -> str:
    if form.quoted.isdisjoint(text) and text == text.strip(" "):
        return text
    return '"' + text.replace('"', '""') + '"'
