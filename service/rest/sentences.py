"""What is said about a wrong field: a sentence that tells the mend, and a stable code beside it.

Marshmallow passes messages on as text; a `Sentence` is text that carries its code all the way through. The library's
own messages are turned into ours here, in one place.
"""

from collections.abc import Iterator, Mapping
from itertools import islice
from typing import Any
from urllib.parse import quote

from service.domain.errors import WrongValue

MOST_TOLD = 100
"""How many faults of one request are told: an answer is never a multiple of what was asked."""


class Sentence(str):
    """A message and its machine code. Formatting keeps the code."""

    __slots__ = ("code",)
    code: str

    def __new__(cls, text: str, code: str) -> "Sentence":
        sentence = super().__new__(cls, text)
        sentence.code = code
        return sentence

    def __deepcopy__(self, _memo: dict[int, Any]) -> "Sentence":
        return self

    def format(self, *args: object, **kwargs: object) -> "Sentence":
        return Sentence(super().format(*args, **kwargs), self.code)


REQUIRED = Sentence("Give this field.", "required")
NULL = Sentence("null is not allowed here: give a value, or leave the field out.", "null")
UNKNOWN = Sentence("There is no such field here; leave it out.", "unknown-field")
NOT_AN_OBJECT = Sentence("Give a JSON object: {...}.", "not-an-object")
NOT_A_LIST = Sentence("Give a list: [...].", "not-a-list")
NOT_TEXT = Sentence("Give text, in double quotes.", "not-text")

_LIBRARY_MESSAGES = {
    "Missing data for required field.": REQUIRED,
    "Field may not be null.": NULL,
    "Unknown field.": UNKNOWN,
    "Invalid input type.": NOT_AN_OBJECT,
    "Invalid type.": NOT_AN_OBJECT,
    "Not a valid list.": NOT_A_LIST,
    "Not a valid string.": NOT_TEXT,
}


def pointer_of(path: tuple[str | int, ...]) -> str:
    """A path into the body as a JSON Pointer in URI-fragment form (RFC 6901, sections 3 and 6).

    Example: ("lines", 0, "cut") is `#/lines/0/cut`.
    """
    return "#" + "".join("/" + quote(str(step).replace("~", "~0").replace("/", "~1"), safe="~!$&'()*+,;=:@")
                         for step in path)


def faults_of(messages: Mapping[Any, Any] | list[Any], location: str) -> list[WrongValue]:
    """The messages, at most 100, each as a fault of its own: with a pointer into the body, or the name of the parameter
    or header."""
    return [_fault(sentence, path, location) for path, sentence in islice(_leaves(messages, ()), MOST_TOLD)]


def _leaves(messages: Any, path: tuple[str | int, ...]) -> Iterator[tuple[tuple[str | int, ...], str]]:
    if isinstance(messages, Mapping):
        for step, below in sorted(messages.items(), key=_place):
            yield from _leaves(below, path if step == "_schema" else (*path, step))
    elif isinstance(messages, str):
        yield path, messages
    else:
        for below in messages:
            yield from _leaves(below, path)


def _place(member: tuple[Any, Any]) -> str:
    """Members keep the order of the schema; those that it does not know, which the library finds in the order of a set,
    come by their names, so that every worker tells the same."""
    name, below = member
    told = below if isinstance(below, list) else []
    unknown = any(isinstance(text, str) and _sentence(text).code == UNKNOWN.code for text in told)
    return str(name) if unknown else ""


def _fault(text: str, path: tuple[str | int, ...], location: str) -> WrongValue:
    sentence = _sentence(text)
    if location == "json":
        return WrongValue(str(sentence), pointer_of(path), error_code=sentence.code)
    place = {"query": "parameter", "path": "parameter", "headers": "header"}.get(location, "parameter")
    return WrongValue(str(sentence), None, error_code=sentence.code, **{place: str(path[0]) if path else ""})


def _sentence(text: str) -> Sentence:
    return text if isinstance(text, Sentence) else _LIBRARY_MESSAGES.get(text, Sentence(text, "wrong-value"))
