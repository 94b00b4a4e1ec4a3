"""Who may call: keys and tokens, the scope that each view needs, and a gate that refuses what nobody has decided about.

    @needs("menu:write")     the key must have the scope
    @open_to_all             nobody needs a key (health, the API document and its docs, the pages and the way into
                             them; nothing else)

Rules that always hold: a view with neither mark keeps the app from being made; a key is read from the Authorization
field alone (as a bearer's, or by Basic as the password), or, where there is none, from a page's session (sessions.py);
an unknown, expired and revoked key get the same answer. A token of the identity provider is told from a key by its
full stops, and read as a bearer's alone.

Source: RFC 6750 (bearer tokens, challenges); RFC 9110 section 11.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol, TypeVar, cast

from flask import Flask, Request, g, request

from service.domain.errors import NotAllowed, Refused, WrongValue
from service.rest.basic_credentials import challenge_by_basic, challenges, key_by_basic
from service.rest.fields.texts import code_fault
from service.rest.good_queries import remember
from service.rest.http_faults import (
    KeyInQuery,
    MalformedRequest,
    NoSuchPath,
    NotAuthenticated,
    Unavailable,
)
from service.rest.problems import BEARER
from service.rest.query_faults import FaultsOfValues, hold_to_parameters, no_values
from service.rest.rate_limits import count
from service.use_cases.allowances import Allowances
from service.use_cases.keys import SCOPES
from service.use_cases.token_identity import IdentityProviderUnavailable

View = TypeVar("View", bound=Callable[..., Any])
OPEN = "open"
_INVALID_TOKEN = f'{BEARER}, error="invalid_token", error_description="The key is not valid"'
_KEY_PARAMETERS = frozenset({"api_key", "apikey", "api-key", "access_token", "token", "key", "authorization"})
_TOKEN = re.compile(r"[A-Za-z0-9._~+/-]{1,256}=*", re.ASCII)
_PROVIDER_AGAIN_SECONDS = 5
_WEB_TOKEN = re.compile(r"[A-Za-z0-9_-]+\.[A-Za-z0-9_-]*\.[A-Za-z0-9_-]*", re.ASCII)
"""A JSON Web Token, as long as the server takes a header field."""


class Caller(Protocol):
    """Who calls, as the authenticator gives it. `scopes` holds all that the key opens, implied ones included."""

    @property
    def key_id(self) -> str: ...
    @property
    def name(self) -> str: ...
    @property
    def scopes(self) -> frozenset[str]: ...
    @property
    def requests_per_minute(self) -> int:
        """How many requests a minute it may make; 0: as many as it likes."""


Authenticate = Callable[[str], Caller | None]
"""From the key's text to who calls; None when the key is unknown, expired or revoked."""

CallerOfSession = Callable[[Request], Caller | None]
"""From a request without an Authorization field to who calls by a page's session; None when it carries none.

Raises:  NotAuthenticated when the session has ended, CrossSiteRequest when a change lacks its proof.
"""


@dataclass(frozen=True, slots=True)
class _Gate:
    """What is asked of a request before its view is called."""

    scope: str
    parameters: Mapping[str, bool]
    of_values: FaultsOfValues
    codes: tuple[str, ...]
    good_queries: dict[bytes, bool] = field(default_factory=dict, compare=False)


class UndecidedView(Exception):
    """A view says neither `@needs` nor `@open_to_all`."""


def needs(scope: str) -> Callable[[View], View]:
    """Mark a view: its caller's key must have `scope`."""
    if scope not in SCOPES:
        raise ValueError(f"{scope!r} is not a scope; use one of {', '.join(SCOPES)}")

    def mark(view: View) -> View:
        view.access = scope  # type: ignore[attr-defined]
        return view

    return mark


def open_to_all(view: View) -> View:
    """Mark a view: no key is needed."""
    view.access = OPEN  # type: ignore[attr-defined]
    return view


def caller() -> Any:
    """Who calls, as the authenticator gave it. Only in a view that needs a scope."""
    return g.caller


def access_of(app: Flask) -> Mapping[str, str]:
    """The scope (or `OPEN`) of every endpoint: what an architecture test walks.

    Raises:  UndecidedView naming the endpoints that nobody has decided about.
    """
    access = {name: getattr(view, "access", None) for name, view in app.view_functions.items()}
    undecided = sorted(name for name, scope in access.items() if scope is None)
    if undecided:
        raise UndecidedView(f"say @needs(...) or @open_to_all on: {', '.join(undecided)}")
    return cast(Mapping[str, str], access)


def guard(app: Flask, authenticate: Authenticate, by_token: Authenticate | None, by_session: CallerOfSession,
          allowances: Allowances) -> None:
    """Put the gate before every view of an app that has all its views. `by_token` reads tokens, where any are taken.

    Raises:  UndecidedView.
    """
    access = access_of(app)
    views = app.view_functions
    gates = {rule.endpoint: _Gate(
        access[rule.endpoint], getattr(views[rule.endpoint], "parameters", {}),
        getattr(views[rule.endpoint], "faults_of_values", no_values),
        tuple(name for name, converter in rule._converters.items() if type(converter).__name__ == "CodeConverter"))
        for rule in app.url_map.iter_rules()}

    def admit() -> None:
        asked = request._get_current_object()  # type: ignore[attr-defined]  # one look-up, not one per member
        if asked.endpoint is None:
            return
        gate = gates[asked.endpoint]
        unheard = bool(asked.query_string) and asked.query_string not in gate.good_queries
        if unheard:
            _refuse_key_in_query()
        if gate.scope != OPEN:
            given = asked.environ.get("HTTP_AUTHORIZATION")
            found = by_session(asked) if given is None else _authenticated(authenticate, by_token, given)
            if found is None:
                raise NotAuthenticated("Send a key: `Authorization: Bearer <key>`.", challenge=challenges(asked))
            g.caller = found
            if found.requests_per_minute:
                count(allowances, found.key_id, found.requests_per_minute)
            _hold_to_scope(found, gate.scope)
        if unheard:
            hold_to_parameters(gate.parameters, asked.args, gate.of_values)
            remember(gate.good_queries, asked.query_string, True)
        if gate.codes:
            _hold_to_codes(asked, gate.codes)

    app.before_request(admit)


def _authenticated(authenticate: Authenticate, by_token: Authenticate | None, given: str) -> Caller:
    scheme, _, secret = given.partition(" ")
    if scheme.lower() == "bearer":
        secret = secret.strip(" ")
        if by_token is not None and _WEB_TOKEN.fullmatch(secret):
            return _caller_with_token(by_token, secret)
        return caller_with(authenticate, secret)
    if scheme.lower() == "basic":
        return caller_with(authenticate, key_by_basic(secret, request), challenge_by_basic(request))
    raise NotAuthenticated("Send the key as `Authorization: Bearer <key>`, or by Basic as the password; no other "
                           "scheme is read here.", challenge=challenges(request))


def caller_with(authenticate: Authenticate, secret: str, challenge: str = _INVALID_TOKEN) -> Caller:
    """Who calls with this key.

    Raises:  NotAuthenticated, in the same words whatever is wrong with the key.
    """
    found = authenticate(secret) if _TOKEN.fullmatch(secret) else None
    if found is None:
        raise NotAuthenticated("The key is not valid: it is unknown, expired or revoked.", challenge=(challenge,))
    return found


def _caller_with_token(by_token: Authenticate, token: str) -> Caller:
    """Who calls with this token.

    Raises:  NotAuthenticated, in the same words whatever is wrong with it; Unavailable when that cannot be told.
    """
    try:
        found = by_token(token)
    except IdentityProviderUnavailable:
        raise Unavailable("The identity provider's signing keys are not at hand and cannot be read just now; try again "
                          "shortly.", retry_after=_PROVIDER_AGAIN_SECONDS) from None
    if found is None:
        raise NotAuthenticated("The token is not valid here: it has ended, or is not signed by the identity provider "
                               "for this service; the service's log says which.", challenge=(_INVALID_TOKEN,))
    return found


def _hold_to_scope(asking: Caller, scope: str) -> None:
    if scope not in asking.scopes:
        raise NotAllowed(f"This needs a key with the scope {scope!r}.", scope=scope)


def _refuse_key_in_query() -> None:
    named = sorted(name for name in request.args if name.lower() in _KEY_PARAMETERS)
    if named:
        raise KeyInQuery("Keys are not read from the address, where logs keep them: send `Authorization: Bearer "
                         "<key>` instead, and have this key replaced.", parameter=named[0])


def _hold_to_codes(asked: Request, names: tuple[str, ...]) -> None:
    """A code that cannot be: a path that is not there, or, when something is to be recorded, what a code looks like."""
    view_args = asked.view_args or {}
    wrong = {name: fault for name in names if (fault := code_fault(view_args[name])) is not None}
    if not wrong:
        return
    if asked.method in ("PUT", "POST"):
        raise Refused([WrongValue(fault, parameter=name, error_code="not-a-code") for name, fault in wrong.items()])
    raise NoSuchPath(next(iter(wrong.values())))


def malformed_header(name: str, sentence: str) -> MalformedRequest:
    """The fault of a request header that breaks its own rules."""
    return MalformedRequest(sentence, header=name, error_code="malformed-header")
