"""Webhooks, their deliveries and the log of tries on the wire."""

from datetime import timedelta
from typing import Any, ClassVar

import marshmallow as ma

from service.domain.webhook import SUBSCRIBED, DeliveryState, WebhookState
from service.rest.fields.choices import Choice, Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Whole
from service.rest.fields.texts import Name, Text
from service.rest.fields.times import Moment
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.paging import PageQuery
from service.rest.schemas.records import PageAnswer
from service.use_cases.keep_webhook import WebhookAsked
from service.use_cases.webhook_sending import Came
from service.use_cases.webhooks_port import Span

DAY_HOURS, MOST_OVERLAP_HOURS = 24, 168
_SECRET = "`whsec_` and 24 to 64 bytes in base64"  # noqa: S105  (says what one looks like)


class _WebhookFacts(ma.Schema):
    url = Text(min=1, max=2000, required=True, metadata=says(
        "Where messages are posted: https, at an address that is public."))
    events = Several(OneOf(SUBSCRIBED), min=1, max=len(SUBSCRIBED), required=True, metadata=says(
        "What it is told of. `ping` comes when it is asked for and is not listed here."))
    description = Text(max=200, load_default="", metadata=says("What it is for; empty unless given."))
    figures = Flag(load_default=False, metadata=says(
        "Whether messages show the figures before and after; without, they name what changed. Asking for it, "
        "and leading a webhook elsewhere that shows or showed them, needs the scope read too. False unless given."))
    active = Flag(load_default=True, metadata=says(
        "Whether it is told anything. Switched on again, it hears of what comes after that. True unless given."))


class WebhookRequest(_WebhookFacts, Request):
    """A webhook to be made or changed."""

    READ_ONLY: ClassVar[tuple[str, ...]] = ("id", "state", "state_reason", "made_at", "revision")

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> WebhookAsked:
        return WebhookAsked(**{**values, "events": tuple(dict.fromkeys(values["events"]))})


class NewWebhookRequest(WebhookRequest):
    """A webhook to be made."""

    secret = Name(metadata=says(f"A secret of your own, {_SECRET}; one is made unless given."))


class WebhookAnswer(_WebhookFacts, Answer):
    """A webhook, without its secret."""

    id = Text(metadata=says("Its id."))
    state = Choice(WebhookState, metadata=says(
        "`active`; `disabled`: switched off, failed for days, or restored without its secret; `gone`: the receiver "
        "answered 410."))
    state_reason = Text(metadata=says("Why it is told nothing, and the mend; empty while it is active."))
    made_at = Moment(metadata=says("When it was made, in UTC."))
    revision = Whole(metadata=says("The revision that changed it last: its tag, for If-Match."))


class NewWebhookAnswer(WebhookAnswer):
    """A webhook with its secret, shown this once."""

    secret = Text(allow_none=True, metadata=says(
        f"What messages are signed with, {_SECRET}; null in the answer to a repeated request."))


class RotatedWebhookAnswer(NewWebhookAnswer):
    """A webhook with its new secret, shown this once."""

    old_valid_until = Moment(allow_none=True, metadata=says(
        "Until when messages are signed with the old secret too; null: they are not."))


class WebhookList(Answer):
    """Every webhook."""

    data = Several(Group(WebhookAnswer), metadata=says("In the order of making."))


class RotationRequest(Request):
    """How the secret is rotated."""

    secret = Name(metadata=says(f"A secret of your own, {_SECRET}; one is made unless given."))
    old_valid_for_hours = Whole(min=0, max=MOST_OVERLAP_HOURS, load_default=DAY_HOURS, metadata=says(
        "How long messages are signed with the old secret too: 24 hours unless given, 0 ends it at once."))

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> dict[str, Any]:
        return {"given": values.get("secret"), "old_valid_for": timedelta(hours=values["old_valid_for_hours"])}


class ReplayRequest(Request):
    """Which messages are sent again. What is left out does not narrow them."""

    first_sequence = Whole(min=1, metadata=says("From this sequence number on."))
    last_sequence = Whole(min=1, metadata=says("Up to this sequence number."))
    made_since = Moment(metadata=says("Made at this moment or later."))
    made_until = Moment(metadata=says("Made at this moment or earlier."))
    undelivered_only = Flag(load_default=True, metadata=says(
        "Those alone that were not delivered: dead or cancelled. True unless given."))

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> Span:
        return Span(values.get("first_sequence"), values.get("last_sequence"), values.get("made_since"),
                    values.get("made_until"), values["undelivered_only"])


class ReplayedAnswer(Answer):
    """How many messages are sent again."""

    replayed = Whole(metadata=says("How many; those that wait to be tried are not counted."))


class DeliveryQuery(PageQuery):
    """Which deliveries."""

    state = OneOf(tuple(state.value for state in DeliveryState), metadata=says("Those alone that stand so."))


class DeliveryAnswer(Answer):
    """The delivery of one message as it stands."""

    id = Text(metadata=says("The message's id, sent as `webhook-id`."))
    sequence = Whole(min=1, metadata=says("Its number among the webhook's messages, from 1, without gaps."))
    event = Text(metadata=says("What it tells of. More may come."))
    made_at = Moment(metadata=says("When the message was made, in UTC."))
    state = Choice(DeliveryState, metadata=says(
        "`waiting` to be tried, also again; `delivered`; `dead`: tried to the last time in vain; `cancelled`: the "
        "webhook ended first."))
    tries = Whole(metadata=says("How often it was tried since it was made or replayed."))
    next_try_at = Moment(allow_none=True, metadata=says("When it is tried next, in UTC; null: it is not."))


class AttemptAnswer(Answer):
    """One try."""

    number = Whole(min=1, metadata=says("Its number; one that is missing was cut short here."))
    at = Moment(metadata=says("When it ended, in UTC."))
    came = Choice(Came, metadata=says(
        "`delivered`: 2xx; `refused`: any other status; `gone`: 410; `timed_out`; `not_reached`: no answer came; "
        "`target_refused`: the address is not one that may be called."))
    status = Whole(allow_none=True, metadata=says("The status of the answer; null: none came."))


class DeliveryLogAnswer(DeliveryAnswer):
    """The delivery of one message, with every try."""

    attempts = Several(Group(AttemptAnswer), metadata=says("In their order."))


class DeliveryPage(PageAnswer):
    """A page of deliveries."""

    data = Several(Group(DeliveryAnswer), metadata=says("The newest first."))
