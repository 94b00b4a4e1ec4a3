"""Margin alerts on the wire."""

from service.domain.target_crossing import Crossing
from service.domain.timeline import MovedBy
from service.rest.fields.choices import Choice, Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Whole
from service.rest.fields.texts import Code, Name, Text
from service.rest.fields.times import Day, Moment
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.paging import PageQuery
from service.rest.schemas.dish_cost_changes import ChangeCauseAnswer
from service.rest.schemas.records import PageAnswer
from service.rest.schemas.webhook_events import ToldFiguresAnswer
from service.use_cases.told_changes import MOST_CAUSES

_CROSSED = ("outside: its published food-cost % is above its published target; back_within: no more; left_menu: it "
            "went off the menu while it was outside.")


class MarginAlertsQuery(PageQuery):
    """Which alerts."""

    open = Flag(metadata=says(
        "true: only of dishes that are outside their target since; false: only what is over, or tells that it is."))
    acknowledged = Flag(metadata=says("true: only those that somebody has acknowledged; false: only the others."))
    dish = Code(metadata=says("Only of this dish."))
    section = Text(max=60, metadata=says("Only of dishes that were in this part of the menu; empty: in none."))
    start = Day(data_key="from", metadata=says("Only crossings on this business day or later."))
    end = Day(data_key="to", metadata=says("Only crossings on this business day or earlier."))


class AcknowledgementRequest(Request):
    """That somebody saw an alert."""

    note = Name(max=500, required=True, metadata=says("What is to be done about it, or why nothing is."))


class AcknowledgementAnswer(Answer):
    """Who saw an alert, and what they noted."""

    note = Text(metadata=says("The note."))
    who = Text(metadata=says("The name of the key that asked."))
    at = Moment(metadata=says("When, in UTC."))
    revision = Whole(metadata=says("The revision that recorded it."))


class AlertNamedAnswer(Answer):
    """An alert that another one names."""

    id = Text(metadata=says("Its id."))
    crossed = Choice(Crossing, metadata=says(_CROSSED))
    revision = Whole(metadata=says("The latest revision that had moved a figure by then."))
    as_of = Day(metadata=says("The business day by then."))


class MarginAlertAnswer(Answer):
    """A dish that crossed its target."""

    id = Text(metadata=says("Its id: the same however often it is worked out, also after a restore."))
    dish = Code(metadata=says("The dish's code."))
    name = Text(metadata=says("The dish's name by then."))
    section = Text(metadata=says("Its part of the menu by then; empty: none."))
    crossed = Choice(Crossing, metadata=says(_CROSSED))
    open = Flag(metadata=says("Whether the dish is outside its target since. Of what closes another: false."))
    revision = Whole(metadata=says("The latest revision that had moved a figure by then."))
    as_of = Day(metadata=says("The business day by then."))
    moved_by = OneOf((MovedBy.REVISION.value, MovedBy.DATE.value), metadata=says(
        "revision: something was recorded; date: a day began, and what was scheduled for it came into force."))
    at = Moment(metadata=says("When, in UTC: a revision at its commit, a day at its beginning."))
    who = Text(allow_none=True, metadata=says("The name of the key that recorded it; null: a day began."))
    because = Text(metadata=says("The causes in words, the first few of them."))
    causes = Several(Group(ChangeCauseAnswer), metadata=says(
        f"What moved it, as far as it stands below the dish; {MOST_CAUSES} at most."))
    more_causes = Whole(metadata=says("How many causes there are beside those listed."))
    before = Group(ToldFiguresAnswer, allow_none=True, metadata=says(
        "Its figures before the step that crossed its target; null: it was not on the menu."))
    after = Group(ToldFiguresAnswer, allow_none=True, metadata=says("Its figures after it; null: it left the menu."))
    closes = Group(AlertNamedAnswer, allow_none=True, metadata=says(
        "The alert that is over by this one; null: this one is the beginning."))
    closed_by = Group(AlertNamedAnswer, allow_none=True, metadata=says("What ended it; null: nothing has."))
    acknowledgement = Group(AcknowledgementAnswer, allow_none=True, metadata=says(
        "The latest; those before are in /v1/changes. null: nobody has acknowledged it."))


class MarginAlertPage(PageAnswer):
    """A page of alerts."""

    data = Several(Group(MarginAlertAnswer), metadata=says("The latest first."))
    up_to_date = Flag(metadata=says(
        "false: much has happened since somebody last looked, and it is still being gone through; these are the alerts "
        "up to `revision` and `as_of`. Ask again for the later ones."))
