"""The feed of dish costs on the wire."""

from typing import ClassVar

from service.rest.fields.choices import Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Whole
from service.rest.fields.texts import Code, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer, Query
from service.rest.paging import LIMIT, MOST, CursorText
from service.rest.schemas.costs import DishCostAnswer

LONGEST_WAIT = 25


class DishCostChangesQuery(Query):
    """From where on, and whether to wait for something to happen."""

    after = CursorText(metadata=says("`next_cursor` of the page before. Without it the feed begins."))
    from_revision = Whole(metadata=says(
        "To begin where a full read stood: its `revision`. Together with `from_date`, instead of `after`."))
    from_date = Day(metadata=says("To begin where a full read stood: its `as_of`."))
    limit = Whole(min=1, max=MOST, load_default=LIMIT, metadata=says("How many at most."))
    wait = Whole(min=0, max=LONGEST_WAIT, load_default=0, metadata=says(
        "While there is nothing new: how many seconds to wait for something before the answer says so."))


class DishFiguresAnswer(DishCostAnswer):
    """A dish's figures at one side of a change: as in the list of dish costs, without the day and the revision."""

    class Meta(DishCostAnswer.Meta):
        exclude = ("as_of", "revision", "last_complete")


class ChangeCauseAnswer(Answer):
    """Something that moved the figures. A key with costs:read alone sees its kind and nothing more."""

    OPTIONAL: ClassVar[tuple[str, ...]] = ("code", "action", "revision", "entry")

    kind = Text(metadata=says(
        "price, yield_test, ingredient, supplier, breakdown, recipe, dish or settings. More may come."))
    code = Text(metadata=says("Of a price its ingredient's, of a yield test its breakdown's, else the record's own."))
    action = Text(metadata=says(
        "What was done, as in /v1/changes; `starts` or `ends` where a day brought it into force or out of it."))
    revision = Whole(metadata=says("The revision that recorded it."))
    entry = Whole(metadata=says("Which of that revision's entries; a price and a test are named REVISION-ENTRY."))


class DishCostChangeAnswer(Answer):
    """A dish whose published figures moved."""

    dish = Code(metadata=says("The dish's code."))
    revision = Whole(metadata=says("The latest revision that had moved a figure by then."))
    as_of = Day(metadata=says("The business day by then."))
    moved_by = OneOf(("revision", "date", "start", "earlier"), metadata=says(
        "revision: something was recorded; date: the day began, and what was scheduled for it came into force; start: "
        "the feed begins with it; earlier: all that happened before the 35 days that the key may look back at."))
    causes = Several(Group(ChangeCauseAnswer), metadata=says(
        "What moved it, as far as it stands below the dish; empty for start and earlier."))
    before = Group(DishFiguresAnswer, allow_none=True, metadata=says("Its figures before; null: not on the menu."))
    after = Group(DishFiguresAnswer, allow_none=True, metadata=says("Its figures now; null: no longer on the menu."))


class DishCostChangesAnswer(Answer):
    """A page of the feed. `next_cursor` is always there: ask with it again when there is nothing new yet."""

    data = Several(Group(DishCostChangeAnswer), metadata=says(
        "In the order in which figures moved; within one step by code. A page may be short, or empty, with more now."))
    revision = Whole(metadata=says("The latest revision that can have moved a figure."))
    as_of = Day(metadata=says("The business day today."))
    more = Flag(metadata=says("Whether there is more now."))
    next_cursor = Text(metadata=says("Where to go on, as `after`; given on every page. It never expires."))
