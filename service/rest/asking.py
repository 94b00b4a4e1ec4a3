"""Who asks, as a use case records it: the key, the request id, and the Idempotency-Key when one came.

Source: the Idempotency-Key draft of the IETF HTTPAPI group: a quoted string; the bare form is read too.
"""

import hashlib
import re

from flask import g, request

from service.rest.api_keys import caller, malformed_header
from service.use_cases.ports import Asker, Idempotency

_KEY = re.compile(r'"([!#-~]{1,128})"|([!#-~]{1,128})', re.ASCII)


def asker() -> Asker:
    """Who asks this request. To be called in the view, when the body has been read."""
    asking, key = caller(), g.get("idempotency_key")
    idempotency = key and Idempotency(key, f"{request.method} {request.path}", _fingerprint())
    return Asker(asking.key_id, asking.name, g.request_id, idempotency or None)


def note_idempotency_key() -> None:
    """Keep the request's Idempotency-Key, if it has one, for `asker`.

    Raises:  MalformedRequest for a key that is empty, too long or has blanks.
    """
    given = request.headers.get("Idempotency-Key")
    if given is None:
        return
    matched = _KEY.fullmatch(given.strip())
    if matched is None:
        raise malformed_header("Idempotency-Key", "Give 1 to 128 visible characters in double quotes, such as a UUID.")
    g.idempotency_key = matched[1] or matched[2]


def _fingerprint() -> str:
    """SHA-256 over the target and the body as it came."""
    asked = hashlib.sha256(request.path.encode() + b"?" + request.query_string)
    asked.update(b"\n" + g.get("body", b""))
    return asked.hexdigest()
