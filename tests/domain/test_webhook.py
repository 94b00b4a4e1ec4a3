"""When a webhook is told something: while it is active, of what it asked for, and of nothing from before it was made.

No source: the rules are our own (the module's head).
"""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from service.domain.timeline import Place
from service.domain.webhook import SUBSCRIBED, Ended, HeardFrom, Webhook, WebhookState

MONDAY, TUESDAY = date(2026, 3, 2), date(2026, 3, 3)
HEARD = HeardFrom(Place(7, MONDAY), 0)
ACTIVE = Webhook("w1", "https://till.example/hook", ("price.changed", "dish.cost_changed"), "", False,
                 datetime(2026, 3, 2, 10, tzinfo=UTC), 7, None, HEARD)


@pytest.mark.parametrize(("place", "heard"), [
    (Place(7, MONDAY), False), (Place(6, MONDAY), False), (Place(8, MONDAY), True), (Place(7, TUESDAY), True),
    (Place(8, TUESDAY), True), (Place(6, date(2026, 3, 1)), False)])
def test_it_hears_of_what_came_after_it_was_made_by_revision_or_by_day(place: Place, heard: bool) -> None:
    assert HEARD.hears_of(place) == heard


@pytest.mark.parametrize(("ended", "heard_from", "state", "why_not"), [
    (None, HEARD, WebhookState.ACTIVE, None), (Ended.SWITCHED_OFF, HEARD, WebhookState.DISABLED, Ended.SWITCHED_OFF),
    (Ended.FAILING, HEARD, WebhookState.DISABLED, Ended.FAILING), (Ended.GONE, HEARD, WebhookState.GONE, Ended.GONE),
    (None, None, WebhookState.DISABLED, Ended.RESTORED), (Ended.GONE, None, WebhookState.GONE, Ended.GONE)])
def test_only_an_active_one_is_told_and_only_what_it_asked_for(
        ended: Ended | None, heard_from: HeardFrom | None, state: WebhookState, why_not: Ended | None) -> None:
    webhook = replace(ACTIVE, ended=ended, heard_from=heard_from)
    assert (webhook.state, webhook.why_not) == (state, why_not)
    assert webhook.hears("price.changed") == (state is WebhookState.ACTIVE)
    assert not webhook.hears("dish.outside_target")


def test_a_ping_is_no_event_to_be_subscribed_to() -> None:
    assert set(SUBSCRIBED) == {"price.changed", "dish.cost_changed", "dish.outside_target", "dish.back_within_target",
                               "price_proposal.waiting"}
