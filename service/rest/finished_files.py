"""Pages and their files as finished bytes over HTTP: made once, packed once, tagged by their content."""

import gzip
import hashlib
from collections.abc import Sequence

from service.rest.conditional import Prebuilt

HTML = "text/html; charset=utf-8"
Fields = Sequence[tuple[str, str]]


def finished(body: bytes, media_type: str, fields: Fields) -> Prebuilt:
    """The answer, with header fields of its own. They say how it may be stored."""
    tag = f'"{hashlib.sha256(body).hexdigest()[:32]}"'
    return Prebuilt(body, gzip.compress(body, mtime=0), tag, media_type, (("Vary", "Accept-Encoding"), *fields))
