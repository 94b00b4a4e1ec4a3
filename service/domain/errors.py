"""Every fault the service can raise, as a tree. A fault is a request that cannot be carried out.

    Fault
      Refused            several faults of one request, all told at once
      NotFound  NotAllowed  PreconditionRequired  PreconditionFailed  IdempotencyKeyReused
      WrongValue         a field that cannot be right in itself
        UnknownUnit  MissingConversion  ConversionsDoNotFormATree  UnknownReference  RetiredReference  LossCannotBeUsed
        YieldsAboveOne  OutputTwice  OutputNotWeighed  OutputsOutweighInput  CutMadeTwice  CurrencyDiffers
        RecipeLoop  LimitPassed  PeriodClosed  UnreadableFile  ColumnsNotRecognised
      FileTooLarge       more rows, or more once unpacked, than are read
      StillInUse         what would be dropped or retired is used by something in force
      ProposalClosed     a price proposal that was accepted or rejected already
      ReadersBusy        as many files are being read as are read at once
      ProposalOutOfDate  what a price proposal was reviewed against has changed since
      WebhookNotActive   a webhook that is told nothing is to be sent something

A fault knows no HTTP status: it has a stable `code` (its slug), a `detail` that says the mend, the `pointer` of the
field in the request (RFC 6901, as a URI fragment), and the codes concerned in `more`.
"""

from collections.abc import Iterable
from typing import Any, ClassVar


class Fault(Exception):
    """A request that cannot be carried out, and how to mend it."""

    code: ClassVar[str] = "fault"

    def __init__(self, detail: str, pointer: str | None = None, **more: Any) -> None:
        super().__init__(detail)
        self.detail = detail
        self.pointer = pointer
        self.more = more

    def at(self, pointer: str) -> "Fault":
        """The same fault, pointing at a field of the request: `#/lines/0/cut`."""
        return type(self)(self.detail, pointer, **self.more)


class Refused(Fault):
    """Several faults of one request."""

    code = "refused"

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(fault.detail for fault in self.faults))


class NotFound(Fault):
    """Nothing is recorded under that code."""

    code = "not-found"


class NotAllowed(Fault):
    """The key may not do this; `more["scope"]` names what it lacks."""

    code = "not-allowed"


class PreconditionRequired(Fault):
    """Replacing or retiring a record needs the tag of what is replaced."""

    code = "precondition-required"


class PreconditionFailed(Fault):
    """The record has changed since; `more` says which revision, who, when and what."""

    code = "precondition-failed"


class IdempotencyKeyReused(Fault):
    """The Idempotency-Key was used for another request."""

    code = "idempotency-key-reused"


class WrongValue(Fault):
    """A field that cannot be right in itself."""

    code = "wrong-value"


class UnknownUnit(WrongValue):
    code = "unknown-unit"


class MissingConversion(WrongValue):
    """Mass, volume and count convert only through the record's own conversions."""

    code = "missing-conversion"


class ConversionsDoNotFormATree(WrongValue):
    code = "conversions-do-not-form-a-tree"


class UnknownReference(WrongValue):
    code = "unknown-reference"


class RetiredReference(WrongValue):
    code = "retired-reference"


class LossCannotBeUsed(WrongValue):
    code = "loss-cannot-be-used"


class YieldsAboveOne(WrongValue):
    code = "yields-above-one"


class OutputTwice(WrongValue):
    code = "output-twice"


class OutputNotWeighed(WrongValue):
    code = "output-not-weighed"


class OutputsOutweighInput(WrongValue):
    code = "outputs-outweigh-input"


class UnaccountedNotConfirmed(WrongValue):
    """Much of a test's input is in no output, and nobody has confirmed that it is so; `more` has the figures."""

    code = "unaccounted-not-confirmed"


class CutMadeTwice(WrongValue):
    code = "cut-made-twice"


class CurrencyDiffers(WrongValue):
    code = "currency-differs"


class RecipeLoop(WrongValue):
    """Something contains itself; `more["loop"]` is the way round."""

    code = "recipe-loop"


class LimitPassed(WrongValue):
    code = "limit-passed"


class StillInUse(Fault):
    """What would be dropped or retired is used; `more["users"]` lists by what."""

    code = "still-in-use"


class PeriodClosed(WrongValue):
    """It would change figures of a period that is closed; `more["closed_through"]` is its last day."""

    code = "period-closed"


class UnreadableFile(WrongValue):
    """A file that is not a price list or invoice as read here; `more["why"]` is a stable word for what it is."""

    code = "unreadable-file"


class ColumnsNotRecognised(WrongValue):
    """What the columns of a table mean cannot be told; `more` lists `columns` found and `missing` meanings."""

    code = "columns-not-recognised"


class FileTooLarge(Fault):
    """More rows, columns or unpacked bytes than are read; `more["limit"]` says how many."""

    code = "file-too-large"


class ReadersBusy(Fault):
    """As many files are being read, or made, as are at once; the same request can be carried out some seconds later."""

    code = "readers-busy"


class ProposalClosed(Fault):
    """The price proposal was accepted or rejected already; `more` says when and by whom."""

    code = "proposal-closed"


class ProposalOutOfDate(Fault):
    """What the proposal was reviewed against has changed since; `more["rows"]` lists the rows concerned."""

    code = "proposal-out-of-date"


class WebhookNotActive(Fault):
    """The webhook is switched off, its receiver is gone or failed for days, or it has no secret; the detail says."""

    code = "webhook-not-active"
