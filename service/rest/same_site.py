"""Proof that a request which changes something comes from this service's own pages, and not from a stranger's.

A browser sends a cookie along whoever wrote the page that asks; so a cookie alone never changes anything. Two proofs
are asked for: what the browser itself says of where the request comes from, whenever it says it, and a token that only
a page of this origin could have read.

Source:  Fetch Metadata (Sec-Fetch-Site); RFC 6454 and the Fetch standard for Origin; OWASP's cheat sheet on cross-site
         request forgery, signed tokens (from memory).
"""

import hmac
from urllib.parse import urlsplit

from flask import Request

from service.rest.fields.exact_field import shown
from service.rest.http_faults import CrossSiteRequest

PAGE_TOKEN = "Seamcost-Page-Token"  # noqa: S105  (the name of a header field)
_PORTS = {"http": 80, "https": 443}


def came_by_https(request: Request) -> bool:
    """Whether the browser speaks TLS, to us or to a proxy that says so.

    Anybody may write that field, and fools only themselves: it decides how their own cookie is named and kept.
    """
    forwarded = str(request.headers.get("X-Forwarded-Proto", "")).partition(",")[0].strip().lower()
    return request.is_secure or forwarded == "https"


def hold_to_same_origin(request: Request) -> None:
    """Refuse what a browser says comes from elsewhere. What says nothing of it is no browser of today.

    Raises:  CrossSiteRequest.
    """
    site = request.headers.get("Sec-Fetch-Site", "same-origin")
    if site != "same-origin":
        raise CrossSiteRequest(f"The browser says that another site asks (Sec-Fetch-Site: {shown(site)}). Use the "
                               "service's own page, or a key in the Authorization field.")
    origin = request.headers.get("Origin")
    if origin is not None and not _is_ours(origin, request):
        raise CrossSiteRequest(
            f"The request comes from a page of {shown(origin)}, and this is {shown(request.host)}. Use the service's "
            "own page; if a proxy stands between, have it pass the Host field on unchanged.")


def page_token(key_id: str, secret: bytes) -> str:
    """The token of a key's pages."""
    return hmac.digest(secret, b"page token\n" + key_id.encode(), "sha256").hex()


def hold_to_page_token(request: Request, key_id: str, secret: bytes) -> None:
    """Refuse a request without the token of this key's pages.

    Raises:  CrossSiteRequest.
    """
    given = request.headers.get(PAGE_TOKEN, "")
    if not hmac.compare_digest(given.encode(), page_token(key_id, secret).encode()):
        raise CrossSiteRequest(
            f"With a session's cookie, whatever changes something carries `{PAGE_TOKEN}`, as GET /session gives it "
            "for this key. Load the page again; programs send a key in the Authorization field instead.",
            header=PAGE_TOKEN, error_code="page-token")


def _is_ours(origin: str, request: Request) -> bool:
    try:
        theirs, ours = urlsplit(origin), urlsplit(f"//{request.host}")
        port = _PORTS[theirs.scheme]
        same = (theirs.hostname, theirs.port or port) == (ours.hostname, ours.port or port)
    except (KeyError, ValueError):
        return False
    return same and (theirs.scheme == "https" or not came_by_https(request))
