"""Values that break readers, and small changes to what is right: what a fuzzer of requests and of files puts in.

A value is taken from what has broken software like this before: bounds of types and of documented limits, text that is
no text in some layer (NUL, lone surrogates, overrides of direction), numbers that are none or burn time when they are
worked with, and texts that mean something to a shell, to SQL, to a template or to a spreadsheet.

Source: RFC 8259 section 9 and RFC 7493 (what parsers may bound); Unicode Technical Report 36; SQLite and PostgreSQL
bounds of integers; common practice of fuzzers for the rest.
"""

import json
import random
from collections.abc import Callable
from typing import Any

RAW = "\u2060raw:"
"""Marks text that stands in JSON as it is: numbers as no library writes them."""

TEXTS: tuple[str, ...] = (
    "", " ", "\t", "0", "-0", "-1", "1e5", "1E400", "1E9999999", "NaN", "Infinity", "-Infinity", "1_000", "0x10", "1,5",
    "٣", "１２", "999999999999.999999", "9999999999999", "-999999999999.999999", "0.0000001", "0.000001", "1.", ".5",
    "2026-02-30", "2026-02-29", "2024-02-29", "0001-01-01", "9999-12-31", "10000-01-01", "1969-12-31", "20260105",
    "2026-11-25T10:00:00Z", "2026-W48-3", "today", "tomorrow", "null", "true", "undefined", "[]", "{}", "*", "%", "%%",
    "%00", "%s%s%n", "../../etc/passwd", "/", "\\", "'", '"', "' OR 1=1 --", "\"; DROP TABLE price; --", "{{7*7}}",
    "${jndi:x}", "=1+1", "@SUM(A1)", "+1", "-cmd", "<script>alert(1)</script>", "a\r\nX-Broken: 1", "\r\n\r\n",
    "\u0000", "a\u0000b", "\ufeff", "\u202e", "\u2066x\u2069", "\u200b", "\ufdd0", "\U0010ffff", "e\u0301", "\u00e9",
    "ß", "İ", "ﬀ", "ａ", "\ud800", "x\udfff", "💥" * 20, "a" * 64, "a" * 65, "a" * 200, "a" * 201, "a" * 5_000,
    "changes", "con", "-", "a-", "-a", "a--b", "A", "leg", "EUR", "GBP", "XXX", "Europe/London", "Pacific/Apia",
    "Mars/X",
    "23:59", "24:00", "00:60", "kg", "each", "us_cup", "C62", "KGM",
)

NUMBERS: tuple[str, ...] = (
    "0", "-0", "-1", "1", "0.1", "1.0", "1e2", "1E400", "-1E400", "1E-400", "1E9999999", "1E999999999999", "1e", "01",
    "2147483647", "2147483648", "9223372036854775807", "9223372036854775808", "18446744073709551616", "1" * 400,
    "-" + "9" * 5_000, "0." + "0" * 500 + "1", "999999999999.999999", "0.0000001", "NaN", "Infinity", "-Infinity", "+1",
    ".5", "5.", "0x1", "1_000",
)


def any_value(chance: random.Random) -> Any:
    """A hostile value of any JSON type."""
    kind = chance.randrange(10)
    if kind < 4:
        return chance.choice(TEXTS)
    if kind < 7:
        return RAW + chance.choice(NUMBERS)
    return chance.choice([None, True, False, [], {}, [[]], [{}], [None], {"": ""}, {"code": None}, [1] * 150,
        nested(40),
                          nested(5), {"a": {"b": {"c": []}}}, [""] * 3])


def nested(depth: int) -> Any:
    """A list in a list in a list."""
    value: Any = 1
    for _ in range(depth):
        value = [value]
    return value


def as_json(value: Any) -> bytes:
    """The text of a body, in which marked texts stand unquoted, and lone surrogates as escapes."""
    text = json.dumps(value)
    marked = json.dumps(RAW)[1:-1]
    pieces = text.split('"' + marked)
    return "".join([pieces[0], *(piece.replace('"', "", 1) for piece in pieces[1:])]).encode()


def changed(value: Any, chance: random.Random, known: Callable[[str], Any]) -> Any:
    """The value with one place of it changed; `known` gives a value that has stood under a name before."""
    copy = json.loads(json.dumps(value))
    places = list(_places(copy))
    if not places:
        return any_value(chance)
    holder, at = chance.choice(places)
    _change_at(holder, at, chance, known)
    return copy


def _places(value: Any) -> Any:
    if isinstance(value, dict):
        for name in list(value):
            yield value, name
            yield from _places(value[name])
    elif isinstance(value, list):
        for index in range(len(value)):
            yield value, index
            yield from _places(value[index])


def _change_at(holder: Any, at: Any, chance: random.Random, known: Callable[[str], Any]) -> None:
    act = chance.randrange(8)
    if act == 0:
        del holder[at]
    elif act == 1 and isinstance(holder, list):
        holder.insert(at, json.loads(json.dumps(holder[at])))
    elif act == 1:
        holder[chance.choice(TEXTS[2:])] = holder[at]
    elif act == 2 and isinstance(holder, dict):
        name = chance.choice(list(holder))
        holder[at], holder[name] = holder[name], holder[at]
    elif act in (3, 4) and isinstance(at, str):
        holder[at] = known(at)
    elif act == 5 and isinstance(holder[at], str):
        holder[at] = text_changed(holder[at], chance)
    else:
        holder[at] = any_value(chance)


def text_changed(text: str, chance: random.Random) -> str:
    """A text with a character or two changed, doubled, dropped, or put in."""
    for _ in range(chance.choice((1, 1, 2))):
        at = chance.randrange(len(text) + 1)
        put_in = chance.choice(("", chance.choice(TEXTS), chr(chance.randrange(32, 127)), text[:at][-1:] * 2))
        text = text[:at] + put_in + text[at + chance.randrange(2):]
    return text


def bytes_changed(content: bytes, chance: random.Random) -> bytes:
    """A file with some bytes flipped, cut out, cut off, doubled, or put in."""
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        at, length = chance.randrange(len(content) + 1), chance.choice((1, 1, 2, 4, 16, 64))
        act = chance.randrange(7)
        middle = content[at:at + length]
        if act == 0:
            content = content[:at]
        elif act == 1:
            content = content[:at] + content[at + length:]
        elif act == 2:
            content = content[:at] + middle * chance.choice((2, 3, 50)) + content[at + length:]
        elif act == 3:
            content = content[:at] + chance.choice(TEXTS).encode("utf-8", "surrogatepass") + content[at:]
        elif act == 4:
            content = content[:at] + bytes(each ^ (1 << chance.randrange(8)) for each in middle) + content[at + length:]
        elif act == 5:
            content = content[:at] + chance.choice((b"\0", b"\xff", b"\xef\xbb\xbf", b"\r", b"\n", b'"', b";", b",",
                b"<",
                                                    b">", b"&", b"]]>", b"PK\x03\x04")) + content[at:]
        else:
            other = chance.randrange(len(content) + 1)
            content = content[:at] + content[other:other + length] + content[at:]
    return content
