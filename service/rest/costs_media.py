"""Which form of a cost answer a client asks for, and the bytes of each, made once a snapshot.

A list of costs is JSON in pages, or CSV whole; a working is JSON, or a sheet as plain text.
"""

import gzip
import json
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from hashlib import sha256
from typing import Any

from flask import request
from werkzeug.datastructures import MIMEAccept
from werkzeug.http import parse_accept_header

from service.rest.conditional import Prebuilt
from service.rest.csv_answers import MEDIA_TYPE as CSV
from service.rest.csv_answers import PLAIN, Column, Form, csv_bytes, disposition
from service.rest.http_faults import NotAcceptable
from service.use_cases.position import Position
from service.use_cases.snapshot import Snapshot

JSON = "application/json"
TEXT = "text/plain; charset=utf-8"
WORTH_COMPRESSING = 1024


def form_asked(*offered: str) -> str:
    """The one of the offered media types that the Accept field likes best; the first where it does not mind.

    Raises:  NotAcceptable.
    """
    accept = request.environ.get("HTTP_ACCEPT", "*/*")
    if accept in ("*/*", offered[0]):
        return offered[0]
    best = _liked_best(accept, tuple(form.partition(";")[0] for form in offered))
    for form in offered:
        if best == form.partition(";")[0]:
            return form
    raise NotAcceptable(f"This is served as {' or '.join(form.partition(';')[0] for form in offered)}.",
                        available=[form.partition(";")[0] for form in offered])


@lru_cache(maxsize=256)
def _liked_best(accept: str, offered: tuple[str, ...]) -> str | None:
    """Clients send the same few fields; reading one anew would take a third of an answer's time."""
    return parse_accept_header(accept, MIMEAccept).best_match(offered)


def prebuilt(position: Position, variant: str, body: bytes, media_type: str,
             extra: Sequence[tuple[str, str]] = ()) -> Prebuilt:
    """An answer of a position: its tag says revision, day, variant, the hash of the ledger at that revision, and that
    of the bytes: another release may say more of the same figures, or have mended them, and a poller must be told."""
    tag = f'"{position.revision}.{position.day}.{variant}.{position.hash[:16]}.{sha256(body).hexdigest()[:8]}"'
    packed = gzip.compress(body, 6, mtime=0) if len(body) >= WORTH_COMPRESSING else None
    return Prebuilt(body, packed, tag, media_type, tuple(extra))


def json_answer(snapshot: Snapshot, variant: str, make: Callable[[], Mapping[str, Any]]) -> Prebuilt:
    """A JSON answer of a snapshot, made on the first request for it."""
    return snapshot.kept((variant, JSON), lambda: prebuilt(snapshot.position, variant, json_bytes(make()), JSON))


def csv_answer(snapshot: Snapshot, variant: str, columns: Sequence[Column], make: Callable[[], Sequence[Any]],
               filename: str) -> Prebuilt:
    """A whole list as CSV, made on the first request for it."""
    return snapshot.kept((variant, CSV), lambda: csv_prebuilt(snapshot, variant, columns, make(), filename))


def csv_prebuilt(snapshot: Snapshot, variant: str, columns: Sequence[Column], rows: Sequence[Any], filename: str,
                 form: Form = PLAIN, extra: Sequence[tuple[str, str]] = ()) -> Prebuilt:
    """Rows as CSV."""
    return prebuilt(snapshot.position, f"{variant}-csv", csv_bytes(columns, rows, form), CSV,
                    [("Content-Disposition", disposition(filename)), *extra])


def json_bytes(document: Mapping[str, Any]) -> bytes:
    """Compact JSON in UTF-8."""
    return json.dumps(document, ensure_ascii=False, separators=(",", ":")).encode()
