"""Conditional requests: what an If-Match asks of a write, and answering a read with 304 when nothing changed.

A record's tag is its revision in quotes. Each representation has a tag of its own: the gzip variant of an answer ends
in `-gz`. Reads are compared weakly, writes strongly. A 304 repeats ETag, Vary and Cache-Control.

Source: RFC 9110 sections 8.8.3, 13.1.1, 13.1.2, 13.2 and 15.4.5; RFC 9111 section 5.2.2.
"""

import re
from dataclasses import dataclass, field

from flask import Request, Response
from werkzeug.http import parse_etags

from service.rest.api_keys import malformed_header
from service.rest.every_answer import SECURITY_HEADERS, Prepared
from service.use_cases.conditions import Condition

CACHE_CONTROL = "private, no-cache"
VARY = "Authorization, Cookie, Accept, Accept-Encoding"
_FRESH = (("Cache-Control", CACHE_CONTROL), ("Vary", VARY))
_LONGEST = 4096
_TAG = re.compile(r'(W/)?"([^"]*)"')
_TAGS = re.compile(r'(W/)?"[^"]*"([ \t]*,[ \t]*(W/)?"[^"]*")*')
_OF_A_BODY = frozenset({"Content-Type", "Content-Length", "Content-Encoding"})


@dataclass(frozen=True, slots=True)
class Prebuilt:
    """An answer made once for a (revision, date): its bytes, their gzip, and the header fields of each variant.

    Shape:   `etag` in quotes, as sent; the gzip variant's is made from it.
    """

    body: bytes
    gzipped: bytes | None
    etag: str
    media_type: str = "application/json"
    extra: tuple[tuple[str, str], ...] = ()
    _plain: list[tuple[str, str]] = field(init=False, repr=False, compare=False)
    _packed: list[tuple[str, str]] = field(init=False, repr=False, compare=False)
    _unchanged: list[tuple[str, str]] = field(init=False, repr=False, compare=False)
    _packed_unchanged: list[tuple[str, str]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        own = {name for name, _ in self.extra}
        common = [*(pair for pair in (*_FRESH, *SECURITY_HEADERS) if pair[0] not in own), *self.extra,
                  ("Content-Type", self.media_type)]
        plain = [("ETag", self.etag), *common, ("Content-Length", str(len(self.body)))]
        packed = [("ETag", gzip_tag(self.etag)), *common, ("Content-Encoding", "gzip"),
                  ("Content-Length", str(len(self.gzipped or b"")))]
        for name, fields in (("_plain", plain), ("_packed", packed), ("_unchanged", _without_body(plain)),
                             ("_packed_unchanged", _without_body(packed))):
            object.__setattr__(self, name, fields)


def prebuilt_answer(prebuilt: Prebuilt, request: Request) -> Response:
    """The variant that the request accepts, or 304 when it has it already. The way of every poll: it does little."""
    environ = request.environ
    packed = prebuilt.gzipped is not None and _takes_gzip(environ.get("HTTP_ACCEPT_ENCODING", ""))
    fields = prebuilt._packed if packed else prebuilt._plain
    known = environ.get("HTTP_IF_NONE_MATCH")
    if known is not None and tag_matches(fields[0][1], known):
        return Prepared(None, 304, prebuilt._packed_unchanged if packed else prebuilt._unchanged)
    return Prepared(prebuilt.gzipped if packed else prebuilt.body, 200, fields)


def _without_body(fields: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """The fields that a 304 repeats."""
    return [pair for pair in fields if pair[0] not in _OF_A_BODY]


def tagged(answer: Response, tag: str, request: Request) -> Response:
    """Give an answer its tag; 304 when the request has it already."""
    answer.headers["ETag"] = tag
    for name, value in _FRESH:
        answer.headers.setdefault(name, value)
    known = request.environ.get("HTTP_IF_NONE_MATCH")
    if known is None or not tag_matches(tag, known):
        return answer
    kept = [(name, value) for name, value in answer.headers.items() if name not in _OF_A_BODY]
    return Response(None, 304, kept)


def record_tag(revision: int, version_revision: int | None = None, started: bool = True) -> str:
    """The tag of a record: its revision, and after a point that of the version shown where it is another one.

    `.ahead` ends it while that version has not `started`: on its first day it is in force without a write.
    """
    shown = "" if version_revision in (None, revision) else f".{version_revision}"
    return f'"{revision}{shown}{"" if started else ".ahead"}"'


def gzip_tag(tag: str) -> str:
    """The tag of the gzip variant."""
    return f'{tag[:-1]}-gz"'


def tag_matches(tag: str, if_none_match: str) -> bool:
    """Weak comparison of a tag with an If-None-Match field: one tag, a list, or `*`."""
    if if_none_match == tag:
        return True
    if len(if_none_match) > _LONGEST:
        return False
    return parse_etags(if_none_match).contains_weak(tag[1:-1])


def condition_of(request: Request) -> Condition:
    """What the request asks of the record before it is written, for the use case to hold to.

    Raises:  MalformedRequest for an If-None-Match other than `*`, and for fields that are no tags.
    """
    if_match, if_none_match = request.headers.get("If-Match"), request.headers.get("If-None-Match")
    if if_none_match is not None and if_none_match.strip() != "*":
        raise malformed_header("If-None-Match", "On a write If-None-Match takes only `*`: create, never replace.")
    if if_match is None:
        return Condition(create_only=if_none_match is not None)
    if if_none_match is not None:
        raise malformed_header("If-Match", "If-Match and If-None-Match together can never hold; send one of them.")
    if if_match.strip() == "*":
        return Condition(any_tag=True)
    return Condition(tags=_strong_tags(if_match))


def _strong_tags(if_match: str) -> frozenset[str]:
    """The strong tags of an If-Match field: weak ones never match on a write (RFC 9110, 13.1.1)."""
    if len(if_match) > _LONGEST or not _TAGS.fullmatch(if_match.strip()):
        raise malformed_header("If-Match", "If-Match takes a tag in quotes, such as \"214\", a list of them, or `*`.")
    return frozenset(tag for weak, tag in _TAG.findall(if_match) if not weak)


def _takes_gzip(accept_encoding: str) -> bool:
    if "gzip" not in accept_encoding:
        return False
    for part in accept_encoding.split(","):
        name, _, weight = part.partition(";")
        if name.strip().lower() == "gzip":
            return weight.strip().lower() not in ("q=0", "q=0.0", "q=0.00", "q=0.000")
    return False
