"""What the trade and the ledger refuse: how each fault that the core knows is answered.

A row: status, title, and from its page in the docs what it means and how it is mended. `Fault` itself is how one is
answered that nothing more is known of.
"""

from collections.abc import Mapping

from service.domain import errors

TRADE_PROBLEMS: Mapping[type[errors.Fault], tuple[int, str, str, str]] = {
    errors.NotAllowed: (
        403, "The key may not do this", "The key is valid, but its scopes do not reach this operation.",
        "Use a key with the scope that `scope` names."),
    errors.NotFound: (
        404, "There is no such record", "Nothing is recorded under that code, or it is retired.",
        "Read the list of that resource for the codes that there are."),
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
    errors.FileTooLarge: (
        413, "The file is too large", "The file has more rows or columns, or unpacks to more, than `limit` allows.",
        "Split it, or take out what does not belong in it."),
    errors.Refused: (
        422, "Several things are wrong", "The request was understood and cannot be carried out; `errors` lists "
        "everything that is wrong with it, each with its place.", "Mend each of `errors` and send it again."),
    errors.WrongValue: (
        422, "A value is wrong", "A field or parameter cannot be right in itself.",
        "Mend what `errors` points at."),
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
    errors.ReadersBusy: (
        503, "Too much at once", "As many price lists are being read, workbooks made, or answers over the whole "
        "menu worked out, as are at once, so that they never keep other requests waiting.",
        "Send the same request again after Retry-After seconds."),
    errors.Fault: (
        422, "The request cannot be carried out", "The request was understood and cannot be carried out.",
        "See the detail."),
}
