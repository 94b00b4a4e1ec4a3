"""Price proposals on the wire: a supplier's file as a draft, its review row by row, and what became of it."""

from typing import ClassVar

from service.domain.price_list import FileFormat
from service.domain.price_proposal import ProposalState
from service.domain.row_finding import Standing
from service.rest.fields.choices import Choice, Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Whole
from service.rest.fields.texts import Code, Name, Text
from service.rest.fields.times import Day, Moment
from service.rest.openapi_layer.schemas import Answer, Query, Request
from service.rest.paging import PageQuery
from service.rest.schemas.figures import figure
from service.rest.schemas.records import PageAnswer
from service.use_cases.read_proposals import MOST_SHOWN

FINDINGS = (
    "Stable. Blocking: unreadable_row, unknown_item, unknown_unit, other_currency, missing_conversion, "
    "retired_ingredient, retired_supplier, duplicate_row, quantity_break, line_ended, price_over, closed_period. "
    "Asking for a reason: pack_differs, outside_history, likely_slip, duplicate_row, two_prices_for_ingredient, "
    "no_preferred_supplier, start_in_past, differs_from_agreed, line_total_differs, gtin_differs. Telling: "
    "price_unchanged, first_price, contract_holds, later_price_holds, matched_by_gtin. More may come.")
MOST_ROWS = 100_000
MOST_OVERRIDES = 10_000


def _column(what: str) -> Name:
    return Name(max=200, metadata=says(f"The header of the column that holds {what}, where it is not told from its "
                                       "words; remembered for the supplier."))


class ProposalQuery(Query):
    """What comes with a file."""

    supplier = Code(required=True, metadata=says("Whose list it is."))
    effective_from = Day(metadata=says(
        "From which day its prices hold; where the file says so itself (an invoice does), it may be left out."))
    file_name = Text(max=200, metadata=says("The file's name, for people; what it is is told by its content."))
    sheet = Name(max=64, metadata=says("The sheet of a workbook; the first that looks like a price list unless given."))
    spread_charges = Flag(metadata=says("Whether what an invoice charges beside its lines is spread by weight."))
    again = Flag(metadata=says(
        "Whether a file whose proposal was accepted is proposed anew, for rows that were left then."))
    item_column = _column("the supplier's item code")
    name_column = _column("the item's name")
    price_column = _column("the price")
    unit_column = _column("what the price is for")
    pack_column = _column("the pack")
    gtin_column = _column("the GTIN")
    currency_column = _column("the currency")
    starts_column = _column("the first day")
    ends_column = _column("the last day")


class ProposalsQuery(PageQuery):
    """Which proposals."""

    supplier = Code(metadata=says("Of this supplier alone."))
    state = Choice(ProposalState, metadata=says("In this state alone."))


class RowsQuery(PageQuery):
    """Which rows of a proposal, in which order."""

    finding = Name(max=64, metadata=says("Only rows with this finding."))
    standing = Choice(Standing, metadata=says("Only rows that stand so."))
    sort = OneOf(("place", "effect", "change"), load_default="place", metadata=says(
        "In the order of the file, or the largest effect on the menu, or the largest change, first."))


class OverrideRequest(Request):
    """A row with findings that is taken all the same, and why."""

    row = Whole(min=1, max=MOST_ROWS, required=True, metadata=says("The row's number."))
    reason = Name(max=500, required=True, metadata=says("Why it is right; kept with the acceptance."))


class AcceptanceRequest(Request):
    """Which rows become prices."""

    BODY_LIMIT: ClassVar[int] = 4_194_304

    rows = Several(Whole(min=1, max=MOST_ROWS), max=MOST_ROWS, metadata=says(
        "The clean rows to take, by number; all clean ones unless given."))
    overrides = Several(Group(OverrideRequest), max=MOST_OVERRIDES, metadata=says(
        "Questioned rows to take as well, each with its reason."))
    looks = Whole(min=1, metadata=says(
        "`looks` of the review that you saw: another look since then is 409. The last one unless given."))
    reviewed_on = Day(metadata=says(
        "`reviewed_on` of the review that you saw: a row that is judged otherwise by now is 409. Today unless given."))


class NoRequest(Request):
    """Nothing: an empty object."""


class DocumentFindingAnswer(Answer):
    """Something to look at in the document as a whole."""

    code = Text(metadata=says("Stable: start_differs, document_charges, charges_spread, same_file. More may come."))
    detail = Text(metadata=says("A sentence."))


class ColumnAnswer(Answer):
    """What a column was taken for."""

    means = Text(metadata=says("item, name, price, unit, pack, gtin, currency, starts, ends. More may come."))
    header = Text(metadata=says("Its header in the file."))


class LayoutAnswer(Answer):
    """How a table was read."""

    columns = Several(Group(ColumnAnswer), metadata=says("What each column was taken for."))
    header_line = Whole(metadata=says("The line of the header, from 1."))
    decimal_mark = Text(metadata=says("`.` or `,`."))
    delimiter = Text(metadata=says("Of CSV: what stands between cells."))
    encoding = Text(metadata=says("Of CSV: how its text is encoded."))
    sheet = Text(metadata=says("Of a workbook: the sheet that was read."))


class FindingCountAnswer(Answer):
    """How many rows have a finding."""

    code = Text(metadata=says(FINDINGS))
    rows = Whole(metadata=says("How many rows have it."))


class CountsAnswer(Answer):
    """How many rows stand where."""

    rows = Whole(metadata=says("All rows of the file."))
    clean = Whole(metadata=says("Rows that would become prices if all clean ones were accepted."))
    unchanged = Whole(metadata=says("Rows whose price is in force already."))
    questioned = Whole(metadata=says("Rows that need a reason."))
    blocked = Whole(metadata=says("Rows that cannot become prices as they are."))
    by_finding = Several(Group(FindingCountAnswer), metadata=says("By finding."))
    missing_items = Whole(metadata=says("Items of the supplier's last accepted list that are not on this one."))


class MissingItemAnswer(Answer):
    """An item that was on the supplier's last accepted list and is not on this one."""

    item = Text(metadata=says("The supplier's code."))
    name = Text(metadata=says("Its name on that list."))
    ingredient = Text(allow_none=True, metadata=says("What it is mapped to."))
    detail = Text(metadata=says("A sentence."))


class MovedDishAnswer(Answer):
    """A dish whose figures would move. Null: it has no such figure before, or after."""

    dish = Text(metadata=says("Its code."))
    name = Text(metadata=says("As the menu has it."))
    food_cost_before = figure("Food cost per portion now.")
    food_cost_after = figure("Food cost per portion then.")
    change = figure("After less before.")
    food_cost_percent_before = figure("Food-cost % now.")
    food_cost_percent_after = figure("Food-cost % then.")
    target_food_cost_percent = figure("Its target.")
    within_target_before = Flag(allow_none=True, metadata=says("Whether it is within its target now."))
    within_target_after = Flag(allow_none=True, metadata=says("Whether it would be."))


class EffectAnswer(Answer):
    """What accepting all clean rows would do to the menu."""

    as_of = Day(metadata=says("The day on which all of them hold."))
    dishes_moved = Whole(metadata=says("How many dishes' figures would move."))
    leaving_target = Whole(metadata=says("How many would leave their food-cost target."))
    returning_to_target = Whole(metadata=says("How many would be back within it."))
    dishes = Several(Group(MovedDishAnswer), metadata=says(
        "At most 1000: those that leave their target first, then those whose cost would be unknown, then by the size "
        "of the change."))


class TakenOverrideAnswer(Answer):
    """A row that was taken with a reason."""

    row = Whole(metadata=says("Its number."))
    reason = Text(metadata=says("Why."))


class AcceptanceAnswer(Answer):
    """How a proposal was accepted."""

    revision = Whole(metadata=says("The revision that recorded its prices, all at once."))
    at = Moment(metadata=says("When."))
    who = Text(metadata=says("By whom."))
    accepted = Whole(metadata=says("How many rows became prices."))
    left = Whole(metadata=says("How many did not; they stay visible."))
    overrides = Several(Group(TakenOverrideAnswer), metadata=says("Rows that were taken with a reason."))


class RejectionAnswer(Answer):
    """How a proposal was rejected."""

    at = Moment(metadata=says("When."))
    who = Text(metadata=says("By whom."))
    reason = Text(metadata=says("Why."))


class ListedProposalAnswer(Answer):
    """A proposal as it stands in a list."""

    id = Text(metadata=says("Its number."))
    supplier = Code(metadata=says("Whose list it is."))
    supplier_name = Text(allow_none=True, metadata=says("The supplier's name."))
    state = Choice(ProposalState, metadata=says("Accepted and rejected are for good."))
    effective_from = Day(allow_none=True, metadata=says("From when its prices hold, unless a row says."))
    file_name = Text(metadata=says("The file's name."))
    file_hash = Text(metadata=says("SHA-256 of the file, hexadecimal."))
    format = Choice(FileFormat, metadata=says("What the file is, told by its content."))
    reference = Text(metadata=says("The list's or invoice's own number."))
    issued_on = Day(allow_none=True, metadata=says("When the document was issued."))
    made_at = Moment(metadata=says("When it was proposed."))
    who = Text(metadata=says("By whom."))
    base_revision = Whole(metadata=says("The revision that it was reviewed against."))
    looks = Whole(metadata=says("How often it was reviewed."))
    spread_charges = Flag(metadata=says("Whether an invoice's charges are spread by weight."))
    rows = Whole(metadata=says("How many rows the file has."))


class ProposalAnswer(ListedProposalAnswer):
    """A proposal with all that its review shows, but for the rows."""

    reviewed_on = Day(metadata=says("The day that the review is of: today, or the day on which it ended."))
    currency = Text(metadata=says("The kitchen's, of every amount here."))
    layout = Group(LayoutAnswer, allow_none=True, metadata=says("How a table was read; null: it is no table."))
    counts = Group(CountsAnswer, metadata=says("How many rows stand where."))
    findings = Several(Group(DocumentFindingAnswer), metadata=says("Of the document as a whole."))
    missing_items = Several(Group(MissingItemAnswer), metadata=says(f"At most {MOST_SHOWN}; `counts` says how many."))
    effect = Group(EffectAnswer, metadata=says("What accepting all clean rows would do to the menu."))
    out_of_date = Flag(metadata=says("Whether what it was reviewed against has changed since: look again."))
    moved_rows = Several(Whole(), metadata=says(f"The rows concerned, at most {MOST_SHOWN}."))
    acceptance = Group(AcceptanceAnswer, allow_none=True, metadata=says("Null: not accepted."))
    rejection = Group(RejectionAnswer, allow_none=True, metadata=says("Null: not rejected."))


class ProposalPage(PageAnswer):
    """A page of proposals."""

    data = Several(Group(ListedProposalAnswer), metadata=says("The newest first."))
