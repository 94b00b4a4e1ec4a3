"""A key by Basic, for programs that have fields for a user name and a password and none for a header: the password is
the whole key. The user name is not read: it is no secret, and one thing more to mistype.

Browsers are never asked for a password: they would show a window of their own in place of the page's words, and send
what was typed into it along with whatever another site's page asks. What they send all the same changes nothing unless
it comes from here.

Source: RFC 7617 (sections 2 and 2.1: base64 of UTF-8, no control characters, a colon ends the user name); RFC 9110
section 11.6.1 for several challenges.
"""

import base64
import binascii
import unicodedata

from flask import Request

from service.rest.http_faults import MalformedRequest, NotAuthenticated
from service.rest.problems import BEARER, REALM
from service.rest.same_site import hold_to_same_origin

CHALLENGE = f'Basic realm="{REALM}", charset="UTF-8"'
_LONGEST = 1024
_SAFE = frozenset({"GET", "HEAD", "OPTIONS"})


def challenges(request: Request) -> tuple[str, ...]:
    """What is asked for where no key came."""
    return (BEARER,) if _is_browser(request) else (BEARER, CHALLENGE)


def challenge_by_basic(request: Request) -> str:
    """What is asked for where a key that came by Basic opens nothing."""
    return BEARER if _is_browser(request) else CHALLENGE


def _is_browser(request: Request) -> bool:
    return bool(request.environ.get("HTTP_USER_AGENT", "").startswith("Mozilla/"))


def key_by_basic(credentials: str, request: Request) -> str:
    """The key in Basic credentials.

    Raises:  MalformedRequest for what RFC 7617 does not know; NotAuthenticated where there is no password;
             CrossSiteRequest for a change that another site's page asks for.
    """
    if request.method not in _SAFE:
        hold_to_same_origin(request)
    _, colon, password = _decoded(credentials).partition(":")
    if not colon:
        raise _malformed("there is no colon between user name and password")
    if not password:
        raise NotAuthenticated("By Basic the key is the password, and none came; the user name may be anything. Or "
                               "send `Authorization: Bearer <key>`.", challenge=(challenge_by_basic(request),))
    return password


def _decoded(credentials: str) -> str:
    if len(credentials) > _LONGEST:
        raise _malformed(f"it is longer than {_LONGEST} characters")
    try:
        text = base64.b64decode(credentials.strip(" ").encode("ascii"), validate=True).decode("utf-8")
    except (UnicodeError, binascii.Error):
        raise _malformed("it is not base64 of text in UTF-8") from None
    if any(unicodedata.category(character) == "Cc" for character in text):
        raise _malformed("there are control characters in it")
    return text


def _malformed(why: str) -> MalformedRequest:
    return MalformedRequest(
        f"What follows `Basic` is not `base64(user name:key)`: {why}. Or send `Authorization: Bearer <key>`.",
        header="Authorization", error_code="malformed-header")
