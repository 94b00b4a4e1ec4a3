"""The body of a request: read whole within a limit, and as JSON without any of the reader's usual generosity.

Rules that always hold: never fewer bytes than were announced, never more than the limit; no float is ever made; every
fault of the JSON text is told with its place. What cannot be placed (a syntax error) is told with its line. How deep a
text nests, how many values it holds, how many members an object has and how long their names are is bounded before any
schema sees it: a megabyte of members that no schema knows would take seconds to be told of, one by one.

Source: RFC 9110 sections 8.6 and 15.5.14, RFC 8259, RFC 7493 (I-JSON: no duplicate names, no lone surrogates).
"""

import json
import logging
from dataclasses import dataclass
from typing import Any, BinaryIO

from flask import Request, g
from flask.json.provider import JSONProvider

from service.domain.errors import Refused
from service.rest.fields.exact_field import shown
from service.rest.http_faults import BodyCutShort, BodyTooLarge, MalformedJson, UnsupportedMediaType
from service.rest.json_numbers import NumberText
from service.rest.sentences import pointer_of

BODY_LIMIT = 1_048_576
DEEPEST = 32
MOST_VALUES = 300_000
"""Twice what the largest body that means something holds: the rows of a price list, each taken."""

MOST_MEMBERS = 200
LONGEST_NAME = 200
_DISCARDED_AT_MOST = 64 * 1_048_576
_PIECE = 65_536
_MOST_FAULTS = 20
_LOG = logging.getLogger("seamcost.rest")


@dataclass(frozen=True, slots=True)
class FileKind:
    """What files an operation takes: their media types, the most bytes, and a sentence for the API document.

    What a file is is told by its content: its media type is only held to be one of those.
    """

    media_types: tuple[str, ...]
    limit: int
    description: str


class AnswerJson(JSONProvider):
    """Flask's JSON: writes compact UTF-8 of plain values only (a raw Decimal or date is a mistake in our code)."""

    def dumps(self, obj: Any, **kwargs: Any) -> str:
        return json.dumps(obj, ensure_ascii=False, allow_nan=False, separators=(",", ":"), **kwargs)

    def loads(self, s: str | bytes, **kwargs: Any) -> Any:
        """For reading what was written here. Requests are read by `parsed_json` and never by this."""
        return json.loads(s, **kwargs)


class _Twice(dict[str, Any]):
    """An object in which a name stands twice."""

    name: str


class _Constant(str):
    """NaN, Infinity or -Infinity: JavaScript, not JSON."""

    __slots__ = ()


def hold_to_media_type(request: Request) -> None:
    """Refuse a body that is announced as anything but plain JSON in UTF-8."""
    charset = request.mimetype_params.get("charset", "utf-8").lower()
    if request.mimetype != "application/json" or charset not in ("utf-8", "utf8"):
        raise UnsupportedMediaType(
            f"Send the body as JSON with `Content-Type: application/json`, not {shown(request.content_type or '')}.",
            accepted="application/json")
    if request.headers.get("Content-Encoding", "identity").lower() != "identity":
        raise UnsupportedMediaType("Send the body without Content-Encoding.", accepted="application/json",
                                   accepted_encoding="identity")


def hold_to_file(request: Request, kind: FileKind) -> None:
    """Refuse a body that is announced as another thing than the files that are taken."""
    if request.mimetype not in kind.media_types:
        accepted = ", ".join(kind.media_types)
        raise UnsupportedMediaType(f"Send the file itself as the body, with one of the media types {accepted}, not "
                                   f"{shown(request.content_type or '')}.", accepted=accepted)
    if request.headers.get("Content-Encoding", "identity").lower() != "identity":
        raise UnsupportedMediaType("Send the file without Content-Encoding.", accepted=kind.media_types[0],
                                   accepted_encoding="identity")


def kept_body(request: Request, limit: int = BODY_LIMIT) -> bytes:
    """As `read_body`, and kept: a body comes once, and its request may be asked again."""
    if "body" not in g:
        g.body = read_body(request, limit)
    return bytes(g.body)


def read_body(request: Request, limit: int = BODY_LIMIT) -> bytes:
    """The whole body, whether announced by length or sent in chunks.

    Raises:  BodyTooLarge above the limit, BodyCutShort when the connection ends early.
    """
    stream, announced = request.environ["wsgi.input"], request.content_length
    if announced is None and not request.environ.get("wsgi.input_terminated"):
        return b""
    if announced is not None and announced > limit:
        _discard(stream, announced)
        raise _too_large(limit)
    try:
        body = _read(stream, limit + 1 if announced is None else announced)
    except Exception as fault:  # each server has its own errors for a broken body, and not all are OSErrors
        raise _cut_short(announced) from fault
    if len(body) > limit:
        _discard(stream, _DISCARDED_AT_MOST)
        raise _too_large(limit)
    if announced is not None and len(body) < announced:
        raise _cut_short(announced)
    return body


def parsed_json(body: bytes) -> Any:
    """JSON text as values, numbers as `NumberText`, at most 32 levels deep.

    Raises:  MalformedJson, or Refused with several.
    """
    if body.startswith(b"\xef\xbb\xbf"):
        raise MalformedJson("The body begins with a byte order mark; send UTF-8 without one.", "#")
    try:
        value = json.loads(body.decode("utf-8"), parse_int=NumberText, parse_float=NumberText, parse_constant=_Constant,
                           object_pairs_hook=_object)
    except UnicodeDecodeError as fault:
        raise MalformedJson(f"The body is not UTF-8 at byte {fault.start + 1}.", "#") from None
    except RecursionError:
        raise _too_deep("#") from None
    except json.JSONDecodeError as fault:
        raise MalformedJson(f"The body is not JSON: {_in_plain_words(fault)} at line {fault.lineno}, column "
                            f"{fault.colno}." if body.strip() else "The body is empty; send a JSON object.",
                            "#") from None
    _hold_to_interchange(value)
    return value


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) == len(pairs):
        return members
    seen: set[str] = set()
    twice = _Twice(members)
    twice.name = next(name for name, _ in pairs if name in seen or seen.add(name))  # type: ignore[func-returns-value]
    return twice


def _hold_to_interchange(value: Any) -> None:
    """Walk the values without recursion and tell every fault with its place."""
    faults: list[MalformedJson] = []
    waiting: list[tuple[Any, tuple[str | int, ...]]] = [(value, ())]
    seen = 0
    while waiting and len(faults) < _MOST_FAULTS:
        here, path = waiting.pop()
        if isinstance(here, dict | list):
            seen += len(here)
            if seen > MOST_VALUES:
                faults.append(MalformedJson(f"The body holds more than {MOST_VALUES:,} values; send fewer.", "#"))
                break
        if isinstance(here, str):
            faults.extend(_text_faults(here, path))
        elif isinstance(here, dict | list) and len(path) >= DEEPEST:
            faults.append(_too_deep(pointer_of(path)))
        elif isinstance(here, dict):
            if isinstance(here, _Twice):
                faults.append(MalformedJson(f"The name {shown(here.name)} stands twice in one object; keep one.",
                                            pointer_of((*path, here.name))))
            faults.extend(_name_faults(here, path))
            waiting.extend((below, (*path, name)) for name, below in reversed(here.items()))
        elif isinstance(here, list):
            waiting.extend((below, (*path, index)) for index, below in reversed(list(enumerate(here))))
    if faults:
        raise faults[0] if len(faults) == 1 else Refused(faults)


def _name_faults(members: dict[str, Any], path: tuple[str | int, ...]) -> list[MalformedJson]:
    if len(members) > MOST_MEMBERS:
        return [MalformedJson(f"An object has {len(members):,} members; none that is read here has more than "
                              f"{MOST_MEMBERS}.", pointer_of(path))]
    return [fault for name in members for fault in (
        _text_faults(name, path) if len(name) <= LONGEST_NAME else
        [MalformedJson(f"The name {shown(name)} is longer than {LONGEST_NAME} characters.", pointer_of(path))])]


def _text_faults(text: str, path: tuple[str | int, ...]) -> list[MalformedJson]:
    if isinstance(text, _Constant):
        return [MalformedJson(f"{text} is not JSON; give a number, or null where that is allowed.", pointer_of(path))]
    if text.isascii():
        return [MalformedJson("Leave out the character U+0000.", pointer_of(path))] if "\x00" in text else []
    if any("\ud800" <= character <= "\udfff" for character in text):
        return [MalformedJson("Half a surrogate pair is no character; leave it out.", pointer_of(path))]
    return [MalformedJson("Leave out the character U+0000.", pointer_of(path))] if "\x00" in text else []


def _in_plain_words(fault: json.JSONDecodeError) -> str:
    return fault.msg[0].lower() + fault.msg[1:]


def _read(stream: BinaryIO, most: int) -> bytes:
    pieces, left = [], most
    while left > 0 and (piece := stream.read(min(left, _PIECE))):
        pieces.append(piece)
        left -= len(piece)
    return b"".join(pieces)


def _discard(stream: BinaryIO, announced: int) -> None:
    """Take what is still coming, within reason, so that the client gets to read the answer."""
    left = min(announced, _DISCARDED_AT_MOST)
    try:
        while left > 0 and (piece := stream.read(min(left, _PIECE))):
            left -= len(piece)
    except Exception:
        _LOG.debug("the rest of a body that is too large did not come")


def _too_large(limit: int) -> BodyTooLarge:
    return BodyTooLarge(f"The body is larger than {limit} bytes; send less at a time.", limit_bytes=limit)


def _cut_short(announced: int | None) -> BodyCutShort:
    return BodyCutShort("The body ended before all of it had come"
                        + ("" if announced is None else f": {announced} bytes were announced") + "; send it again.")


def _too_deep(pointer: str) -> MalformedJson:
    return MalformedJson(f"The body is nested more than {DEEPEST} levels deep.", pointer)
