"""A strict reader of JSON that shares no code with the service's: it says whether a text is JSON, and what it holds.

Written from the grammar, by recursive descent over bytes with a stack of its own, so that depth is no matter. Numbers
stay text. What RFC 7493 adds is held too: UTF-8 without a byte order mark, no lone surrogate, no name twice.

Source: RFC 8259 sections 2 to 8; RFC 7493 sections 2.1 to 2.3; RFC 3629 section 3 for what is UTF-8.
"""

import re
from typing import Any

_SPACE = re.compile(rb"[ \t\n\r]*")
_NUMBER = re.compile(rb"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?")
_PLAIN = re.compile(rb'[^"\\\x00-\x1f]*')
_ESCAPES = {b'"': '"', b"\\": "\\", b"/": "/", b"b": "\b", b"f": "\f", b"n": "\n", b"r": "\r", b"t": "\t"}
_WORDS = {b"true": True, b"false": False, b"null": None}


class NotJson(Exception):
    """The text is not JSON as it may be interchanged."""


class Number(str):
    """A number as it is written."""

    __slots__ = ()


def judged(text: bytes) -> tuple[Any, int]:
    """The value, and how deep it is nested.

    Raises:  NotJson.
    """
    reading = _Reading(text)
    value = reading.value()
    reading.space()
    if reading.at != len(text):
        raise NotJson("something stands behind the value")
    return value, reading.deepest


class _Reading:
    """Where the reading is."""

    def __init__(self, text: bytes) -> None:
        self.text, self.at, self.deepest = text, 0, 0

    def space(self) -> None:
        found = _SPACE.match(self.text, self.at)
        self.at = found.end() if found else self.at

    def value(self) -> Any:
        """One value; what is open is on a stack of (container, the name that waits for its value)."""
        stack: list[tuple[Any, str]] = []
        while True:
            self.space()
            opened = self.text[self.at:self.at + 1]
            if opened in (b"[", b"{"):
                self.at += 1
                container: Any = [] if opened == b"[" else {}
                self.deepest = max(self.deepest, len(stack) + 1)
                self.space()
                if self._take(b"]" if opened == b"[" else b"}"):
                    value = container
                else:
                    stack.append((container, self._name(container) if opened == b"{" else ""))
                    continue
            else:
                value = self._scalar()
            while stack:
                container, name = stack.pop()
                if isinstance(container, list):
                    container.append(value)
                else:
                    container[name] = value
                self.space()
                if self._take(b","):
                    stack.append((container, self._name(container) if isinstance(container, dict) else ""))
                    break
                if not self._take(b"]" if isinstance(container, list) else b"}"):
                    raise NotJson(f"neither a comma nor an end at {self.at}")
                value = container
            else:
                return value

    def _take(self, mark: bytes) -> bool:
        found = self.text.startswith(mark, self.at)
        self.at += len(mark) if found else 0
        return found

    def _name(self, container: dict[str, Any]) -> str:
        self.space()
        name = self._string()
        if name in container:
            raise NotJson(f"the name {name!r} stands twice")
        container[name] = None
        self.space()
        if not self._take(b":"):
            raise NotJson(f"no colon at {self.at}")
        return name

    def _scalar(self) -> Any:
        if self.text.startswith(b'"', self.at):
            return self._string()
        for word, value in _WORDS.items():
            if self._take(word):
                return value
        found = _NUMBER.match(self.text, self.at)
        if not found or not found.group():
            raise NotJson(f"no value at {self.at}")
        self.at = found.end()
        return Number(found.group().decode())

    def _string(self) -> str:
        if not self._take(b'"'):
            raise NotJson(f"no text at {self.at}")
        pieces: list[str] = []
        while True:
            found = _PLAIN.match(self.text, self.at)
            plain = found.group() if found else b""
            self.at += len(plain)
            pieces.append(_decoded(plain))
            if self._take(b'"'):
                return _without_lone_surrogates("".join(pieces))
            if not self._take(b"\\"):
                raise NotJson(f"text is not ended, or holds a control character, at {self.at}")
            pieces.append(self._escape())

    def _escape(self) -> str:
        kind = self.text[self.at:self.at + 1]
        self.at += 1
        if kind in _ESCAPES:
            return _ESCAPES[kind]
        digits = self.text[self.at:self.at + 4]
        if kind != b"u" or not re.fullmatch(rb"[0-9a-fA-F]{4}", digits):
            raise NotJson(f"no escape at {self.at}")
        self.at += 4
        return chr(int(digits, 16))


def _decoded(plain: bytes) -> str:
    try:
        return plain.decode("utf-8")
    except UnicodeDecodeError as fault:
        raise NotJson("not UTF-8") from fault


def _without_lone_surrogates(text: str) -> str:
    """The text with its pairs joined."""
    try:
        return text.encode("utf-16-le", "surrogatepass").decode("utf-16-le")
    except UnicodeDecodeError as fault:
        raise NotJson("half a surrogate pair") from fault
