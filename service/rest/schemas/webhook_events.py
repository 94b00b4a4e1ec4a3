"""What webhooks are sent: one schema for the message of each event.

Members may be added; a receiver passes over those that it does not know, and events of other types.

Source: Standard Webhooks 1.0.0, "Payload structure" (type, timestamp, data).
"""

from collections.abc import Mapping
from typing import ClassVar

from service.domain.timeline import MovedBy
from service.domain.webhook import Event
from service.rest.fields.choices import Fixed, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Figure, Whole
from service.rest.fields.texts import Code, Text
from service.rest.fields.times import Day, Moment
from service.rest.openapi_layer.schemas import Answer
from service.rest.schemas.costs import DishCostAnswer
from service.rest.schemas.dish_cost_changes import ChangeCauseAnswer
from service.use_cases.told_changes import FIGURES, MOST_CAUSES

WITH_FIGURES = ("more_causes", "before", "after")
"""Members of messages to a webhook that was made with `figures` alone."""


class _EventData(Answer):
    webhook = Text(metadata=says("Whose message it is: the webhook's id."))
    sequence = Whole(min=1, metadata=says(
        "The message's number among the webhook's, from 1, without gaps: one that is missing is still to come, or can "
        "be replayed."))
    revision = Whole(metadata=says("The latest revision of the ledger by then."))
    as_of = Day(metadata=says("The business day by then."))


class PingData(_EventData):
    """Nothing happened: a message to try the receiver."""


class ProposalWaitingData(_EventData):
    """A supplier's list or invoice waits for somebody to accept or reject it."""

    price_proposal = Whole(min=1, metadata=says("The proposal's number, as in /v1/price-proposals."))
    supplier = Code(metadata=says("Whose list it is."))
    rows = Whole(metadata=says("How many rows it has."))


class _MovedData(_EventData):
    OPTIONAL: ClassVar[tuple[str, ...]] = WITH_FIGURES

    moved_by = OneOf((MovedBy.REVISION.value, MovedBy.DATE.value), metadata=says(
        "revision: something was recorded; date: a day began, and what was scheduled for it came into force."))
    causes = Several(Group(ChangeCauseAnswer), metadata=says(
        f"What moved it: kind and action, each pair once; with figures, which records, {MOST_CAUSES} at most."))
    more_causes = Whole(metadata=says("How many causes there are beside those listed; with figures alone."))


class DecidingPriceAnswer(Answer):
    """The price that an ingredient's costs rest on."""

    price = Text(metadata=says("Its id."))
    supplier = Code(metadata=says("Whose price it is."))
    amount = Figure(metadata=says("Money for the pack."))
    pack_quantity = Figure(metadata=says("How much the pack holds, in `pack_unit`."))
    pack_unit = Text(metadata=says("Of `pack_quantity`."))
    unit_price = Figure(allow_none=True, metadata=says(
        "Money per base unit of the ingredient; null: the pack does not convert."))


class PriceChangedData(_MovedData):
    """Another price decides what an ingredient costs, or none any more."""

    ingredient = Code(metadata=says("The ingredient's code."))
    before = Group(DecidingPriceAnswer, allow_none=True, metadata=says("With figures alone; null: none decided."))
    after = Group(DecidingPriceAnswer, allow_none=True, metadata=says("With figures alone; null: none decides."))


class ToldFiguresAnswer(DishCostAnswer):
    """The figures of a dish that a message shows."""

    class Meta(DishCostAnswer.Meta):
        fields = FIGURES


class DishMovedData(_MovedData):
    """The published figures of a dish moved, or crossed its target."""

    dish = Code(metadata=says("The dish's code."))
    changed = Several(OneOf(FIGURES), metadata=says(
        "Which figures differ; those that it has, where the dish came onto the menu or left it."))
    before = Group(ToldFiguresAnswer, allow_none=True, metadata=says("With figures alone; null: not on the menu."))
    after = Group(ToldFiguresAnswer, allow_none=True, metadata=says("With figures alone; null: no longer on it."))


class _MessageBody(Answer):
    timestamp = Moment(metadata=says(
        "When it happened, in UTC: a revision at its commit, a day at its beginning. The try's own time is in the "
        "field `webhook-timestamp`."))


class PriceChangedMessage(_MessageBody):
    """Told when another price decides what an ingredient costs."""

    type = Fixed(Event.PRICE_CHANGED.value, metadata=says("The event."))
    data = Group(PriceChangedData, metadata=says("What happened."))


class DishCostChangedMessage(_MessageBody):
    """Told when published figures of a dish move, and when it comes onto the menu or leaves it."""

    type = Fixed(Event.DISH_COST_CHANGED.value, metadata=says("The event."))
    data = Group(DishMovedData, metadata=says("What happened."))


class DishOutsideTargetMessage(_MessageBody):
    """Told once when a dish's food cost goes above its target, or comes onto the menu there."""

    type = Fixed(Event.DISH_OUTSIDE_TARGET.value, metadata=says("The event."))
    data = Group(DishMovedData, metadata=says("What happened."))


class DishBackWithinTargetMessage(_MessageBody):
    """Told once when a dish that was outside its target is within it again."""

    type = Fixed(Event.DISH_BACK_WITHIN_TARGET.value, metadata=says("The event."))
    data = Group(DishMovedData, metadata=says("What happened."))


class ProposalWaitingMessage(_MessageBody):
    """Told when a supplier's list or invoice was sent in and waits for a decision."""

    type = Fixed(Event.PRICE_PROPOSAL_WAITING.value, metadata=says("The event."))
    data = Group(ProposalWaitingData, metadata=says("What happened."))


class PingMessage(_MessageBody):
    """Sent when it is asked for, to try the receiver."""

    type = Fixed(Event.PING.value, metadata=says("The event."))
    data = Group(PingData, metadata=says("Where the ledger stood."))


MESSAGES: Mapping[str, type[Answer]] = {
    Event.PRICE_CHANGED.value: PriceChangedMessage,
    Event.DISH_COST_CHANGED.value: DishCostChangedMessage,
    Event.DISH_OUTSIDE_TARGET.value: DishOutsideTargetMessage,
    Event.DISH_BACK_WITHIN_TARGET.value: DishBackWithinTargetMessage,
    Event.PRICE_PROPOSAL_WAITING.value: ProposalWaitingMessage,
    Event.PING.value: PingMessage}
"""The message of each event, for the document's `webhooks`."""
