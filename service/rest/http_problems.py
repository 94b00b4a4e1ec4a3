"""What is wrong with a request as HTTP, or with the service that it reaches: how each fault is answered.

A row: status, title, and from its page in the docs what it means and how it is mended.

Source: RFC 9110 section 15 and RFC 6585 for the statuses.
"""

from collections.abc import Mapping

from service.domain.errors import Fault
from service.rest import http_faults

HTTP_PROBLEMS: Mapping[type[Fault], tuple[int, str, str, str]] = {
    http_faults.MalformedRequest: (
        400, "The request is malformed", "The request breaks a rule of HTTP, whatever it asks for.",
        "Compare the header that the detail names with its definition and send it again."),
    http_faults.MalformedJson: (
        400, "The body is not acceptable JSON", "The body is not JSON, or has what JSON readers disagree about: a "
        "name twice in one object, NaN or Infinity, half a surrogate pair, U+0000, more than 32 levels, "
        "or more members, values or longer names than any request has.",
        "Write the body with a JSON library; amounts may be text (\"14.20\") or plain numbers."),
    http_faults.BodyCutShort: (
        400, "The body ended early", "Fewer bytes arrived than the request announced, so nothing was recorded.",
        "Send the request again; with an Idempotency-Key where the operation takes one."),
    http_faults.KeyInQuery: (
        400, "A key stands in the address", "Addresses are kept in logs and histories, so keys are not read there. "
        "Treat the key as known to others.", "Send `Authorization: Bearer <key>`, and have this key replaced."),
    http_faults.NotAuthenticated: (
        401, "A valid key is needed", "The request carries no key, or one that is unknown, expired or revoked.",
        "Send `Authorization: Bearer <key>`. `seamcost keys create` makes a key."),
    http_faults.CrossSiteRequest: (
        403, "The request may come from another site", "A browser sends a session's cookie whichever page asks, so "
        "with it nothing is changed without proof that the page is the service's own.",
        "Load the service's page again and repeat it there; programs send `Authorization: Bearer <key>`."),
    http_faults.NoSuchPath: (
        404, "Nothing is served there", "No resource has that path.", "Compare the path with the list at /docs."),
    http_faults.MethodNotAllowed: (
        405, "The method is not served there", "The path exists, but not for that method.",
        "Use one of the methods that the Allow header names."),
    http_faults.NotAcceptable: (
        406, "No acceptable form", "The answer has none of the media types that the Accept header allows.",
        "Ask for one of those that `available` names, or leave Accept out."),
    http_faults.BodyTooLarge: (
        413, "The body is too large", "The body is above the limit that `limit_bytes` names.",
        "Send less in one request."),
    http_faults.AddressTooLong: (
        414, "The address is too long", "The request's target is longer than is read here.",
        "Use fewer or shorter query parameters."),
    http_faults.UnsupportedMediaType: (
        415, "The body's media type is not read here", "The Content-Type or Content-Encoding is not one that this "
        "operation reads.", "Send what `accepted` names."),
    http_faults.UnknownParameter: (
        422, "There is no such query parameter", "A misspelt filter would silently give the whole list, so unknown "
        "parameters are refused.", "Leave it out, or use one of those that the detail lists."),
    http_faults.RepeatedParameter: (
        422, "A query parameter is given twice", "Two values for one parameter leave open which one is meant.",
        "Give the parameter once."),
    http_faults.WrongCursor: (
        422, "The cursor does not fit", "A cursor belongs to one list, one set of filters and one key.",
        "Follow `next_cursor` with the same parameters and key, or begin again without a cursor."),
    http_faults.TooManyRequests: (
        429, "Too many requests", "More requests came than are allowed.", "Wait for Retry-After seconds."),
    http_faults.QuotaExceeded: (
        429, "The allowance is used up", "The key, or the link, has made as many requests as it may in a minute; "
        "`RateLimit-Policy` says how many that are, and `violated-policies` names it.",
        "Wait for Retry-After seconds. Poll with If-None-Match: an answer of 304 counts a tenth of another."),
    http_faults.InternalFault: (
        500, "Something broke here", "The fault is the service's, not yours, and in the log under the request id.",
        "Tell whoever runs the service the `request_id`."),
    http_faults.Unavailable: (
        503, "Not available just now", "The ledger cannot be reached, or the service is starting or stopping.",
        "Try again after Retry-After seconds."),
    http_faults.DatabaseDamaged: (
        503, "The ledger's database is damaged", "The database finds its own files damaged where it would have to "
        "read them. Nothing was recorded, and what it still reads is answered as before.",
        "Tell whoever runs the service: it goes on once a backup is restored. To send the request again before "
        "that does not help."),
    http_faults.DatabaseGrantMissing: (
        503, "The service lacks a grant in its database", "The database does not let the role that the service "
        "connects as do what the request needs. Nothing was recorded, and what the role may read is answered as "
        "before.", "Tell whoever runs the service: it goes on once the role has the grant that the log names. To "
        "send the request again before that does not help."),
    http_faults.CopyOnlyRead: (
        503, "This is a copy to read from", "The service works on a copy of the ledger that is only read. Nothing "
        "was recorded.", "Send what changes something to the address of the service that records; read here."),
    http_faults.OutcomeUnknown: (
        503, "It may have been recorded", "The database was lost while it was told to record: what was asked is "
        "recorded whole, or not at all.", "Read what the request was about; or repeat it with the same "
        "Idempotency-Key or If-Match: that has no second effect."),
    http_faults.InsufficientStorage: (
        507, "There is no room to record this", "The disk of the ledger is full: nothing was recorded, and what is "
        "recorded can be read as before.",
        "Tell whoever runs the service; the same request goes through once there is room."),
}
