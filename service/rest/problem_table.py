"""The one table from what is wrong to how it is answered: fault class -> status, title, and its page in the docs.

A fault's slug is its class's `code`; its type is `/docs/problems/<slug>`. A class without a row of its own is answered
as its nearest ancestor that has one; a test holds every class to have one.

Source: RFC 9457 (problem details); RFC 9110 section 15 and RFC 6585 for the names of the statuses.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from service.domain import errors
from service.domain.errors import Fault
from service.rest import http_faults
from service.rest.http_problems import HTTP_PROBLEMS
from service.rest.trade_problems import TRADE_PROBLEMS

REASONS: Mapping[int, str] = {
    400: "Bad Request", 401: "Unauthorized", 403: "Forbidden", 404: "Not Found", 405: "Method Not Allowed",
    406: "Not Acceptable", 409: "Conflict", 412: "Precondition Failed", 413: "Content Too Large", 414: "URI Too Long",
    415: "Unsupported Media Type", 422: "Unprocessable Content", 428: "Precondition Required",
    429: "Too Many Requests", 500: "Internal Server Error", 503: "Service Unavailable",
    507: "Insufficient Storage"}
"""Reason phrases as RFC 9110 and RFC 6585 give them, whatever the Python version calls them."""


@dataclass(frozen=True, slots=True)
class ProblemType:
    """One kind of problem: how it is answered, and what its page says."""

    slug: str
    status: int
    title: str
    meaning: str
    mend: str

    @property
    def uri(self) -> str:
        """The problem's type: a path that holds on whichever host the service answers."""
        return f"/docs/problems/{self.slug}"


PROBLEMS: Mapping[type[Fault], ProblemType] = {
    fault: ProblemType(fault.code, *row) for fault, row in (*HTTP_PROBLEMS.items(), *TRADE_PROBLEMS.items())}
"""Every fault's row, of HTTP and of the trade."""

BY_STATUS: Mapping[int, type[Fault]] = {
    400: http_faults.MalformedRequest, 401: http_faults.NotAuthenticated, 403: errors.NotAllowed,
    404: http_faults.NoSuchPath, 405: http_faults.MethodNotAllowed, 406: http_faults.NotAcceptable,
    413: http_faults.BodyTooLarge, 414: http_faults.AddressTooLong, 415: http_faults.UnsupportedMediaType,
    429: http_faults.TooManyRequests, 500: http_faults.InternalFault, 503: http_faults.Unavailable,
    507: http_faults.InsufficientStorage}
"""Which fault an error of the framework itself amounts to."""


def problem_type_of(fault: type[Fault]) -> ProblemType:
    """The row of a fault's class, or of its nearest ancestor."""
    return next(PROBLEMS[ancestor] for ancestor in fault.__mro__ if ancestor in PROBLEMS)
