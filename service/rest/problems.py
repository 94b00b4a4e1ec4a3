"""Faults and errors as problem documents: one shape for everything that goes wrong.

    {"type": "/docs/problems/wrong-value", "title": "A value is wrong", "status": 422, "detail": "...",
     "instance": "/v1/dishes/grilled-cap", "request_id": "...",
     "errors": [{"pointer": "#/lines/0/quantity", "detail": "Give a value above 0.", "code": "too-small"}]}

All of a request's faults are told at once. Nothing internal is ever told: what is not a fault of the request is logged
under the request id and answered as 500.

Source: RFC 9457; RFC 9110 sections 15.5.2, 15.5.6, 15.5.16 (headers that must come with a status); RFC 6750.
"""

import json
import logging
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any
from urllib.parse import quote

from flask import Flask, Response, current_app, g, has_request_context, request
from werkzeug.exceptions import HTTPException, MethodNotAllowed

from service.domain.errors import Fault, NotAllowed, ReadersBusy, Refused
from service.rest.http_faults import (
    CopyOnlyRead,
    DatabaseDamaged,
    DatabaseGrantMissing,
    InsufficientStorage,
    InternalFault,
    NotAuthenticated,
    OutcomeUnknown,
    TooManyRequests,
    Unavailable,
    UnsupportedMediaType,
)
from service.rest.link_tokens import told_path
from service.rest.problem_table import BY_STATUS, REASONS, problem_type_of
from service.rest.sentences import MOST_TOLD
from service.use_cases.ledger_unavailable import (
    GrantMissing,
    LedgerDamaged,
    LedgerFull,
    MayBeRecorded,
    NeedsAHand,
    OnlyReads,
)

MEDIA_TYPE = "application/problem+json"
REALM = "seamcost"
BEARER = f'Bearer realm="{REALM}"'
AS_PAGE = "seamcost-problem-pages"
"""Where an application keeps what tells the problems of its pages (rest/pages/problem_pages.py)."""

_NOT_REACHED: tuple[type[Fault], str] = (Unavailable, "The ledger cannot be reached just now; try again shortly.")
_AGAIN_SECONDS, _MENDED_SECONDS = 5, 300
_TOLD_OF_LEDGER: Mapping[type[Exception], tuple[type[Fault], str]] = {
    LedgerDamaged: (DatabaseDamaged, "The database finds its own files damaged, so this was not carried out. Whoever "
                    "runs the service has to restore a backup; the log says what is damaged."),
    GrantMissing: (DatabaseGrantMissing, "The database does not let the service's role do this, so it was not carried "
                   "out. Whoever runs the service has to grant it; the log says what is missing."),
    LedgerFull: (InsufficientStorage, "The disk of the ledger is full, so nothing was recorded; what is recorded can "
                 "be read as before."),
    OnlyReads: (CopyOnlyRead, "This service works on a copy of the ledger that is only read, and recorded nothing; "
                "send what changes something to the service that records."),
    MayBeRecorded: (OutcomeUnknown, "The database was lost while it recorded this: it is recorded whole, or not at "
                    "all. Read it to find out, or repeat it with the same Idempotency-Key or If-Match.")}

_LOG = logging.getLogger("seamcost.rest")
_UNTOLD = frozenset({"error_code", "challenge"})


def problem_document(fault: Fault) -> dict[str, Any]:
    """The problem document of a fault, for the request at hand."""
    faults = _all_faults(fault)
    leading = _leading(faults)
    kind = problem_type_of(type(leading))
    told: dict[str, Any] = {} if len(faults) > 1 else _told(faults[0])
    told |= {"type": kind.uri, "title": kind.title, "status": kind.status, "detail": _detail(faults)}
    if has_request_context():
        instance = quote(told_path(request.path), safe="/~!$&'()*+,;=:@")
        told |= {"instance": instance, "request_id": g.get("request_id", "")}
        g.problem = kind.slug
    errors = [_error(each) for each in faults if _points_somewhere(each) or len(faults) > 1]
    return told | ({"errors": errors} if errors else {})


def problem_answer(fault: Fault, headers: Iterable[tuple[str, str]] = ()) -> Response:
    """The answer to a fault, with the header fields that its status calls for: of a page it is a page."""
    document = problem_document(fault)
    as_page = current_app.extensions.get(AS_PAGE, _no_page)
    answer = as_page(document) or _json(document)
    answer.headers.extend(list(headers))
    answer.headers.extend([field for field in _headers_of(fault) if field[0] not in answer.headers])
    return answer


def _json(document: Mapping[str, Any]) -> Response:
    body = json.dumps(document, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "backslashreplace")
    return Response(body, document["status"], content_type=MEDIA_TYPE)


def _no_page(_document: Mapping[str, Any]) -> None:
    """Where an application has no pages."""


def answer_faults(app: Flask, unavailable: tuple[type[Exception], ...] = ()) -> None:
    """Have the app answer every fault, HTTP error and surprise with a problem document.

    `unavailable` are the errors that mean that the ledger cannot be reached: they are answered as 503, or
    507 where it is full.
    """
    app.register_error_handler(Fault, problem_answer)
    app.register_error_handler(HTTPException, _http_error)
    app.register_error_handler(Exception, _surprise)
    for error in unavailable:
        app.register_error_handler(error, _not_available)


def _http_error(error: HTTPException) -> Any:
    """An HTTP error of the framework as a problem; what is no error (a redirect, a 304) passes untouched."""
    if error.code is None or error.code < 400:
        return error
    kind = BY_STATUS.get(error.code)
    if kind is None or error.code >= 500:
        kind = Unavailable if error.code == 503 else InternalFault if error.code >= 500 else BY_STATUS[400]
    kept = [(name, value) for name, value in error.get_response().headers.items()
            if name not in ("Content-Type", "Content-Length")]
    return problem_answer(kind(_detail_of(error)), kept)


def _detail_of(error: HTTPException) -> str:
    """What to say of an error of the framework: in our words where it is a usual one."""
    if error.code == 404:
        return "There is nothing at this path; /docs lists what there is."
    if isinstance(error, MethodNotAllowed):
        return f"{request.method} is not served here; use one of {', '.join(sorted(error.valid_methods or ()))}."
    return error.description or REASONS.get(error.code or 500, "")


def _surprise(error: Exception) -> Response:
    _LOG.error("unexpected %s", type(error).__name__, exc_info=error, extra=_where())
    return problem_answer(InternalFault("Something broke that is not your doing; it is in the log under the request "
                                        "id."))


def _not_available(error: Exception) -> Response:
    _LOG.error("not available: %s", type(error).__name__, exc_info=error, extra=_where())
    fault, detail = next((told for kind, told in _TOLD_OF_LEDGER.items() if isinstance(error, kind)), _NOT_REACHED)
    seconds = _MENDED_SECONDS if isinstance(error, NeedsAHand) else _AGAIN_SECONDS
    return problem_answer(fault(detail, retry_after=seconds))


def _where() -> dict[str, Any]:
    """For the log: in which view."""
    return {"fields": {"endpoint": request.endpoint}}


def _all_faults(fault: Fault) -> list[Fault]:
    if not isinstance(fault, Refused):
        return [fault]
    return [below for each in fault.faults for below in _all_faults(each)] or [fault]


def _leading(faults: list[Fault]) -> Fault:
    """Which fault gives the type: the only kind there is; else one that is no plain 422; else "refused"."""
    if len({problem_type_of(type(each)).slug for each in faults}) == 1:
        return faults[0]
    urgent = [each for each in faults if problem_type_of(type(each)).status != 422]
    return min(urgent, key=lambda each: problem_type_of(type(each)).status) if urgent else Refused(faults)


def _detail(faults: list[Fault]) -> str:
    if len(faults) == 1:
        return faults[0].detail
    many = f"{len(faults)} things" if len(faults) < MOST_TOLD else f"{MOST_TOLD} things, or more,"
    return f"{many} are wrong; each is in `errors`. The first: {faults[0].detail}"


def _error(fault: Fault) -> dict[str, Any]:
    place = {} if fault.pointer is None else {"pointer": fault.pointer}
    return _told(fault) | place | {"detail": fault.detail, "code": str(fault.more.get("error_code", fault.code))}


def _points_somewhere(fault: Fault) -> bool:
    return fault.pointer is not None or bool({"parameter", "header", "column"} & fault.more.keys())


def _told(fault: Fault) -> dict[str, Any]:
    return {name: plain(value) for name, value in fault.more.items() if name not in _UNTOLD}


def _headers_of(fault: Fault) -> list[tuple[str, str]]:
    for each in _all_faults(fault):
        if isinstance(each, NotAuthenticated):
            return [("WWW-Authenticate", challenge) for challenge in each.more.get("challenge", (BEARER,))]
        if isinstance(each, NotAllowed) and "scope" in each.more:
            return [("WWW-Authenticate", f'{BEARER}, error="insufficient_scope", scope="{each.more["scope"]}"')]
        if isinstance(each, Unavailable | InsufficientStorage | TooManyRequests | ReadersBusy):
            return [("Retry-After", str(each.more.get("retry_after", 5)))]
        if isinstance(each, UnsupportedMediaType):
            return [("Accept", str(each.more.get("accepted", "application/json")))]
    return []


def plain(value: Any) -> Any:
    """A value as JSON has it: decimals and dates as text, sets sorted."""
    if isinstance(value, Mapping):
        return {str(name): plain(below) for name, below in value.items()}
    if isinstance(value, set | frozenset):
        return sorted(plain(below) for below in value)
    if isinstance(value, list | tuple):
        return [plain(below) for below in value]
    if isinstance(value, Decimal):
        return format(value, "f")
    return value.isoformat() if isinstance(value, date) else value
