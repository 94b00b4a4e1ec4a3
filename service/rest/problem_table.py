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


def _rows() -> dict[type[Fault], ProblemType]:
    rows = {
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
        errors.NotAllowed: (
            403, "The key may not do this", "The key is valid, but its scopes do not reach this operation.",
            "Use a key with the scope that `scope` names."),
        http_faults.CrossSiteRequest: (
            403, "The request may come from another site", "A browser sends a session's cookie whichever page asks, so "
            "with it nothing is changed without proof that the page is the service's own.",
            "Load the service's page again and repeat it there; programs send `Authorization: Bearer <key>`."),
        http_faults.NoSuchPath: (
            404, "Nothing is served there", "No resource has that path.", "Compare the path with the list at /docs."),
        errors.NotFound: (
            404, "There is no such record", "Nothing is recorded under that code, or it is retired.",
            "Read the list of that resource for the codes that there are."),
        http_faults.MethodNotAllowed: (
            405, "The method is not served there", "The path exists, but not for that method.",
            "Use one of the methods that the Allow header names."),
        http_faults.NotAcceptable: (
            406, "No acceptable form", "The answer has none of the media types that the Accept header allows.",
            "Ask for one of those that `available` names, or leave Accept out."),
        errors.StillInUse: (
            409, "Still in use", "What would be dropped or retired is used by something in force.",
            "Change what `users` names first, then try again."),
        errors.ProposalClosed: (
            409, "The proposal is closed", "A price proposal is accepted or rejected once.",
            "Read the proposal: it says when, by whom, and which rows were taken."),
        errors.ProposalOutOfDate: (
            409, "The proposal needs another look", "Prices, mappings or settings that it was reviewed against have "
            "changed since; `rows` says where.", "Ask for another look, read the review again, and decide anew."),
        errors.WebhookNotActive: (
            409, "The webhook is not active", "It is switched off, its receiver is gone or failed for days, or it has "
            "no secret since a restore; nothing is sent to it.",
            "Switch it on with PUT and \"active\": true, or give it a secret with rotate-secret; then ask again."),
        errors.PreconditionFailed: (
            412, "The record has changed", "The If-Match tag is not that of the record as it stands: somebody has "
            "changed it since you read it; or it should have been created, and is there. `changes` says who, when and "
            "what: perhaps it was you, and the answer was lost.",
            "Read the record again, decide anew, and send its present tag."),
        http_faults.BodyTooLarge: (
            413, "The body is too large", "The body is above the limit that `limit_bytes` names.",
            "Send less in one request."),
        errors.FileTooLarge: (
            413, "The file is too large", "The file has more rows or columns, or unpacks to more, than `limit` allows.",
            "Split it, or take out what does not belong in it."),
        http_faults.AddressTooLong: (
            414, "The address is too long", "The request's target is longer than is read here.",
            "Use fewer or shorter query parameters."),
        http_faults.UnsupportedMediaType: (
            415, "The body's media type is not read here", "The Content-Type or Content-Encoding is not one that this "
            "operation reads.", "Send what `accepted` names."),
        errors.Refused: (
            422, "Several things are wrong", "The request was understood and cannot be carried out; `errors` lists "
            "everything that is wrong with it, each with its place.", "Mend each of `errors` and send it again."),
        errors.WrongValue: (
            422, "A value is wrong", "A field or parameter cannot be right in itself.",
            "Mend what `errors` points at."),
        http_faults.UnknownParameter: (
            422, "There is no such query parameter", "A misspelt filter would silently give the whole list, so unknown "
            "parameters are refused.", "Leave it out, or use one of those that the detail lists."),
        http_faults.RepeatedParameter: (
            422, "A query parameter is given twice", "Two values for one parameter leave open which one is meant.",
            "Give the parameter once."),
        http_faults.WrongCursor: (
            422, "The cursor does not fit", "A cursor belongs to one list, one set of filters and one key.",
            "Follow `next_cursor` with the same parameters and key, or begin again without a cursor."),
        errors.UnknownUnit: (
            422, "The unit is not known", "Units are named for exactly what they are: `us_cup`, not `cup`.",
            "Use one of the units that the detail lists."),
        errors.MissingConversion: (
            422, "A conversion is missing", "Mass, volume and count convert into each other only through the record's "
            "own conversions.", "Record the conversion on the ingredient or recipe, such as 1 each = 0.055 kg."),
        errors.ConversionsDoNotFormATree: (
            422, "The conversions do not form a tree", "There must be one way, and only one, from each unit to each "
            "other.", "Leave out the conversion that joins what is joined already."),
        errors.UnknownReference: (
            422, "Something named is not recorded", "The request names a record that does not exist.",
            "Record it first, or correct the code."),
        errors.RetiredReference: (
            422, "Something named is retired", "The request names a record that is retired.",
            "Use another, or revive it by putting it again."),
        errors.LossCannotBeUsed: (
            422, "A loss cannot be used", "Outputs of role `loss` are worth nothing and go into no recipe.",
            "Give the output the role `by_product` or `trim` if it is used."),
        errors.YieldsAboveOne: (
            422, "The yields add up to more than the input", "The declared yields of a breakdown are fractions of its "
            "input and cannot exceed 1 together.", "Check that each is a fraction (0.10) and not a percentage."),
        errors.OutputTwice: (
            422, "An output stands twice", "A breakdown or test lists the same cut more than once.",
            "Keep one of them."),
        errors.OutputNotWeighed: (
            422, "The outputs weighed are not the breakdown's", "A yield test weighs every output of the breakdown, "
            "and no other.", "Weigh every output; give \"0\" where there was none."),
        errors.OutputsOutweighInput: (
            422, "The outputs outweigh the input", "Together the outputs weigh more than went in, beyond the tolerance "
            "of the scale.", "Check the weights and their unit."),
        errors.UnaccountedNotConfirmed: (
            422, "Much of the input is unaccounted for", "Far more of the input than usual is in no output of the "
            "test, as when a weight was misread or forgotten. `unaccounted_weight` says how much, in `unit`.",
            "Weigh again. If it is so, send the test with \"unaccounted_confirmed\": true."),
        errors.CutMadeTwice: (
            422, "Two breakdowns in use make the same cut", "A cut is made by one breakdown in use at a time.",
            "Give one of the outputs another code."),
        errors.CurrencyDiffers: (
            422, "The currency is not the kitchen's", "All prices are in the currency of the settings.",
            "Convert the amount, or leave the currency out."),
        errors.RecipeLoop: (
            422, "It contains itself", "A recipe, dish or breakdown would contain itself; `loop` is the way round.",
            "Take out one of the uses on the way."),
        errors.LimitPassed: (
            422, "A limit is passed", "Depth, lines and records below a dish are bounded.",
            "Split what the detail names."),
        errors.PeriodClosed: (
            422, "The period is closed", "Figures up to `closed_through` are closed: nothing may change them.",
            "Start it on a later day, or have finance move `closed_through` in the settings."),
        errors.UnreadableFile: (
            422, "The file cannot be read", "The file is not what is read there: a price list, an invoice, a table of "
            "sales. `why` names what it is.", "Send one of the formats that the operation names, as the detail says."),
        errors.ColumnsNotRecognised: (
            422, "The columns are not recognised", "No row in the first 20 is a header whose words are known here; "
            "`columns` lists what was found, `missing` what is needed.",
            "Name the columns with the parameters that the detail gives; they are remembered for the supplier."),
        errors.IdempotencyKeyReused: (
            422, "The Idempotency-Key was used for another request", "A key stands for one request; this one differs "
            "from the first that carried it.", "Use a new key for a new request."),
        errors.PreconditionRequired: (
            428, "The record's tag is needed", "Replacing or retiring a record needs If-Match with the tag of what is "
            "replaced, so that nobody's change is lost unseen.",
            "Read the record, and send `If-Match` with its revision in quotes; `If-Match: *` overwrites knowingly."),
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
        errors.ReadersBusy: (
            503, "Too much at once", "As many price lists are being read, workbooks made, or answers over the whole "
            "menu worked out, as are at once, so that they never keep other requests waiting.",
            "Send the same request again after Retry-After seconds."),
        Fault: (
            422, "The request cannot be carried out", "The request was understood and cannot be carried out.",
            "See the detail."),
    }
    return {fault: ProblemType(fault.code, *row) for fault, row in rows.items()}


PROBLEMS: Mapping[type[Fault], ProblemType] = _rows()

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
