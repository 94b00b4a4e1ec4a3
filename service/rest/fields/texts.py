"""Fields of text: the codes that people choose, the names they give, and what they write.

Text is measured before it is composed and after; a code is matched as ASCII; nothing is kept that hides, or that turns
the direction of what is read.

Source: Unicode Standard Annex 15 (NFC) and Technical Report 36 (direction overrides).
"""

import re
import unicodedata
from typing import Any

import marshmallow as ma

from service.rest.fields.exact_field import ExactField, shown
from service.rest.sentences import NOT_TEXT

CODE_PATTERN = "[a-z0-9]+(-[a-z0-9]+)*"
CODE_LENGTH = 64
RESERVED_CODES = frozenset({"changes"})

_CODE = re.compile(CODE_PATTERN, re.ASCII)
_OVERRIDES = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


class Code(ExactField):
    """A public identifier that people choose: `beef-topside`."""

    def read(self, value: Any) -> str:
        if not isinstance(value, str):
            raise self.refusal("not-a-code", "Give a code as text, such as 'beef-topside'.")
        fault = code_fault(value)
        if fault is not None:
            raise self.refusal("not-a-code", fault)
        return value

    def facts(self) -> dict[str, Any]:
        return {"pattern": f"^{CODE_PATTERN}$", "maxLength": CODE_LENGTH}


class Text(ExactField):
    """Free text, normalised to NFC and without blanks around it; line ends only where `lines` allows them."""

    def __init__(self, *, max: int = 1000, min: int = 0, lines: bool = False, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.shortest, self.longest, self.lines = min, max, lines

    def read(self, value: Any) -> str:
        if not isinstance(value, str):
            raise ma.ValidationError([NOT_TEXT])
        if len(value) > 4 * self.longest + 64:
            raise self.refusal("too-long", f"Give at most {self.longest} characters.")
        text = unicodedata.normalize("NFC", value).strip()
        if len(text) > self.longest:
            raise self.refusal("too-long", f"Give at most {self.longest} characters.")
        if len(text) < self.shortest:
            raise self.refusal("too-short", f"Give at least {self.shortest} character{'s' * (self.shortest > 1)}.")
        if not (text.isascii() and text.isprintable()):
            self._hold_to_plain(text)
        return text

    def _hold_to_plain(self, text: str) -> None:
        for character in text:
            if unprintable(character) and not (self.lines and character == "\n"):
                raise self.refusal(
                    "unprintable-character", f"Leave out the character U+{ord(character):04X}: control characters, "
                    "surrogates and direction overrides are not kept.")

    def facts(self) -> dict[str, Any]:
        if getattr(self.root, "IS_ANSWER", False):
            return {}
        return {"maxLength": self.longest} | ({"minLength": self.shortest} if self.shortest else {})


class Name(Text):
    """What people call a thing: 1 to 120 characters on one line."""

    def __init__(self, *, max: int = 120, **kwargs: Any) -> None:
        super().__init__(min=1, max=max, **kwargs)


def code_fault(text: str) -> str | None:
    """What is wrong with a code, as a sentence, or None."""
    if len(text) > CODE_LENGTH:
        return f"A code has at most {CODE_LENGTH} characters."
    if not _CODE.fullmatch(text):
        return f"{shown(text)} is not a code: lower-case letters and digits, joined by single hyphens: 'beef-topside'."
    if text in RESERVED_CODES:
        return f"{text!r} is reserved; choose another code."
    return None


def unprintable(character: str) -> bool:
    """Control characters, surrogates, line and paragraph separators, non-characters and direction overrides."""
    return (unicodedata.category(character) in ("Cc", "Cs", "Zl", "Zp") or character in _OVERRIDES
            or ord(character) & 0xFFFE == 0xFFFE)
