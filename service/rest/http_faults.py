"""Faults of a request as HTTP: what is wrong before any use case is asked.

They are `Fault`s like those of the trade, so that one table (problem_table) and one handler (problems) serve both.
`more["error_code"]` is the code of one wrong field; `more["parameter"]` and `more["header"]` name what is not in the
body and so has no pointer.
"""

from service.domain.errors import Fault, WrongValue


class MalformedRequest(Fault):
    """The request breaks the rules of HTTP, whatever it asks."""

    code = "malformed-request"


class MalformedJson(MalformedRequest):
    """The body is not JSON as RFC 8259 and RFC 7493 (I-JSON) have it."""

    code = "malformed-json"


class BodyCutShort(MalformedRequest):
    """Fewer bytes came than were announced."""

    code = "body-cut-short"


class KeyInQuery(MalformedRequest):
    """An access key stands in the address, where logs and histories keep it."""

    code = "key-in-query"


class NotAuthenticated(Fault):
    """No key, or one that is unknown, expired or revoked; `more["challenge"]` has the WWW-Authenticate fields."""

    code = "not-authenticated"


class CrossSiteRequest(Fault):
    """A session's cookie came with a change that may be a stranger's; `more["header"]` names the missing proof."""

    code = "cross-site-request"


class NoSuchPath(Fault):
    """Nothing is served under that path."""

    code = "no-such-path"


class MethodNotAllowed(Fault):
    """The path is served, but not by that method."""

    code = "method-not-allowed"


class NotAcceptable(Fault):
    """None of the media types that the request accepts is given here."""

    code = "not-acceptable"


class BodyTooLarge(Fault):
    """The body is above the limit; `more["limit_bytes"]` says which."""

    code = "body-too-large"


class AddressTooLong(Fault):
    """The request's target is too long."""

    code = "address-too-long"


class UnsupportedMediaType(Fault):
    """The body is announced as something that is not read here; `more["accepted"]` says what is."""

    code = "unsupported-media-type"


class UnknownParameter(WrongValue):
    """A query parameter that the operation does not have; `more["parameter"]` names it."""

    code = "unknown-parameter"


class RepeatedParameter(WrongValue):
    """A query parameter that is given twice."""

    code = "repeated-parameter"


class WrongCursor(WrongValue):
    """A cursor that was not given for this list, these filters and this key."""

    code = "wrong-cursor"


class TooManyRequests(Fault):
    """More requests than are allowed; `more["retry_after"]` is in seconds."""

    code = "too-many-requests"


class QuotaExceeded(TooManyRequests):
    """A key's or link's allowance is used up; `more["violated-policies"]` names it as the RateLimit fields do."""

    code = "quota-exceeded"


class InternalFault(Fault):
    """Something broke that is not the asker's doing."""

    code = "internal-fault"


class InsufficientStorage(Fault):
    """There is no room to record anything; `more["retry_after"]` is in seconds."""

    code = "insufficient-storage"


class Unavailable(Fault):
    """The service cannot answer just now; `more["retry_after"]` is in seconds."""

    code = "unavailable"


class DatabaseDamaged(Unavailable):
    """The database finds its own files damaged; somebody has to restore a backup."""

    code = "database-damaged"


class DatabaseGrantMissing(Unavailable):
    """The service's role may not do this in the database; somebody has to grant it."""

    code = "database-grant-missing"


class CopyOnlyRead(Unavailable):
    """The service is on a copy of the ledger that is only read, and the request would change something."""

    code = "copy-only-read"


class OutcomeUnknown(Unavailable):
    """The database was lost while it recorded: whether it did is not known here."""

    code = "outcome-unknown"
