"""A person's session on the pages: a key given once and kept, sealed, in a cookie that no script can read.

Nothing is stored here. The key inside is asked for at every request like any other, so that a key revoked or expired
ends its sessions at the next request in every worker; twelve hours end them too, and so does closing the browser.

Rules that always hold: the cookie is looked at only where no Authorization field came; what changes something carries
the page's token besides, and comes from this origin. No key is ever in an address, an answer or a log.

Source:  RFC 6265 and its successor draft (SameSite, the `__Host-` prefix); RFC 9110 section 9.2.1 for safe methods.
"""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from flask import Request, Response

from service.rest.api_keys import Authenticate, Caller, caller_with
from service.rest.http_faults import NotAuthenticated
from service.rest.same_site import came_by_https, hold_to_page_token, hold_to_same_origin, page_token
from service.rest.sealed_key import GOOD_FOR, seal, unseal
from service.use_cases.documents import moment

_COOKIE = "seamcost-session"
_SAFE = frozenset({"GET", "HEAD", "OPTIONS"})


class Sessions:
    """Opens sessions, and knows who calls by one. `secret` gives the ledger's own, which all workers share."""

    def __init__(self, authenticate: Authenticate, secret: Callable[[], bytes], clock: Callable[[], datetime]) -> None:
        self._authenticate, self._secret, self._clock = authenticate, secret, clock

    def caller(self, request: Request) -> Caller | None:
        """Who calls by the request's cookie; None when it has none.

        Raises:  NotAuthenticated when the session has ended; CrossSiteRequest when a change lacks its proof.
        """
        found = self._opened(request)
        if found is None:
            return None
        asking, _ = found
        if request.method not in _SAFE:
            hold_to_same_origin(request)
            hold_to_page_token(request, asking.key_id, self._secret())
        return asking

    def open(self, key: str, request: Request, answer: Response) -> Caller:
        """Open a session: check the key, and have the answer set its cookie.

        Raises:  NotAuthenticated.
        """
        asking = caller_with(self._authenticate, key)
        self._set_cookie(request, answer, seal(key, self._secret(), self._clock()))
        return asking

    def close(self, request: Request, answer: Response) -> None:
        """Have the answer take the cookie away."""
        self._set_cookie(request, answer, "", max_age=0)

    def told(self, request: Request) -> dict[str, Any]:
        """What the page may know of its session.

        Raises:  NotAuthenticated when the session has ended.
        """
        found = self._opened(request)
        return {"signed_in": False} if found is None else self.about(*found)

    def about(self, asking: Caller, ends: datetime | None = None) -> dict[str, Any]:
        """A session that is open: who, what for, until when, and the token of its pages."""
        until = ends or self._clock() + GOOD_FOR
        return {"signed_in": True, "name": asking.name, "scopes": sorted(asking.scopes),
                "ends_at": moment(until, "seconds"),
                "page_token": page_token(asking.key_id, self._secret())}

    def _opened(self, request: Request) -> tuple[Caller, datetime] | None:
        sealed = request.cookies.get(_name(request))
        if sealed is None:
            return None
        found = unseal(sealed, self._secret(), self._clock())
        asking = None if found is None else self._authenticate(found[0])
        if found is None or asking is None:
            raise NotAuthenticated("The session has ended: sign in again.")
        return asking, found[1]

    def _set_cookie(self, request: Request, answer: Response, value: str, max_age: int | None = None) -> None:
        answer.set_cookie(_name(request), value, max_age=max_age, path="/", secure=came_by_https(request),
                          httponly=True, samesite="Strict")


def _name(request: Request) -> str:
    """By TLS the cookie has the prefix that keeps every other host from setting it."""
    return f"__Host-{_COOKIE}" if came_by_https(request) else _COOKIE
