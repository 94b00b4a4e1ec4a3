"""Keeping secrets out of what is logged: the last gate, behind the rule that nobody logs one.

Rules that always hold: what looks like a key of ours, a signing secret of a webhook, a feed link's token, a credential
of an Authorization field or a password within an address has dots in its place, and so has every secret that the
settings hold, as it stands and as addresses, JSON and base64 write it.

Source: OWASP Logging Cheat Sheet, "Data to exclude"; CWE-532.
"""

import json
import re
from base64 import b64encode
from collections.abc import Callable, Iterable
from urllib.parse import quote, quote_plus

DOTS = "..."
_LOOKS = re.compile(
    r"(?P<before>seam_[0-9a-f]{8}_|whsec_|/feeds/+|\b(?:bearer|basic) +|://[^\s/:@\"]*:)"
    r"(?P<secret>(?<=:)[^\s@\"]+(?=@)|(?<!:)[A-Za-z0-9._~+/=%-]+)", re.IGNORECASE)
_LEAST = 4
"""Shorter secrets would put dots everywhere."""


def redactor(secrets: Iterable[str] = ()) -> Callable[[str], str]:
    """A function that puts dots in the place of secrets; of `secrets` in whatever form they come."""
    forms = {form for secret in secrets if len(secret) >= _LEAST for form in _forms(secret)}
    known = re.compile("|".join(map(re.escape, sorted(forms, key=len, reverse=True)))) if forms else None

    def redacted(text: str) -> str:
        text = _LOOKS.sub(rf"\g<before>{DOTS}", text)
        return known.sub(DOTS, text) if known else text

    return redacted


def _forms(secret: str) -> set[str]:
    plain = secret.encode()
    return {secret, quote(secret, safe=""), quote_plus(secret), json.dumps(secret)[1:-1], b64encode(plain).decode()}
