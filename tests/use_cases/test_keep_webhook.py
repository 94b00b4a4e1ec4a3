"""Who may change what about a webhook: a key that may not read costs never gets them by way of somebody's webhook."""

from dataclasses import replace

import pytest

from service.domain.errors import NotAllowed
from service.persistence.ledger import SqlLedger
from service.use_cases.conditions import Condition
from service.use_cases.keep_webhook import WebhookAsked, change_webhook, create_webhook
from tests.use_cases.webhooks_heard import OFFICE, any_target

ANY = Condition(any_tag=True)
SHOWN = WebhookAsked("https://hooks.example/office", ("dish.cost_changed",), figures=True)


def made(ledger: SqlLedger, asked: WebhookAsked) -> str:
    return str(create_webhook(ledger, asked, True, any_target, OFFICE).document["id"])


def change(ledger: SqlLedger, webhook: str, asked: WebhookAsked, may_read: bool = False) -> None:
    change_webhook(ledger, webhook, asked, may_read, any_target, ANY, OFFICE)


@pytest.mark.parametrize("figures", [True, False])
def test_who_may_not_read_leads_no_figures_to_another_address(ledger: SqlLedger, figures: bool) -> None:
    """Messages that wait, or can be sent again, hold what they held when they were made."""
    webhook = made(ledger, SHOWN)
    elsewhere = replace(SHOWN, url="https://elsewhere.example/", figures=figures)
    with pytest.raises(NotAllowed, match="scope read"):
        change(ledger, webhook, elsewhere)
    change(ledger, webhook, elsewhere, may_read=True)


def test_figures_that_were_shown_once_are_led_nowhere_else_either(ledger: SqlLedger) -> None:
    webhook = made(ledger, SHOWN)
    thin = replace(SHOWN, figures=False)
    change(ledger, webhook, thin)
    with pytest.raises(NotAllowed):
        change(ledger, webhook, replace(thin, url="https://elsewhere.example/"))
    with pytest.raises(NotAllowed):
        change(ledger, webhook, SHOWN)


def test_who_may_not_read_looks_after_a_webhook_all_the_same(ledger: SqlLedger) -> None:
    shown, thin = made(ledger, SHOWN), made(ledger, replace(SHOWN, figures=False))
    change(ledger, shown, replace(SHOWN, description="the office", active=False))
    change(ledger, thin, replace(SHOWN, figures=False, url="https://moved.example/"))
    states = {webhook.id: (webhook.description, webhook.url) for webhook in ledger.webhooks.every()}
    assert states == {shown: ("the office", SHOWN.url), thin: ("", "https://moved.example/")}
