"""A small ledger recorded through the use cases, so that its entries and rows say what the service's own say."""

from datetime import date
from decimal import Decimal

from service.domain.sales import SaleKind, SalesLine
from service.domain.supplier import Supplier
from service.persistence.engines import Engines
from service.persistence.ledger import SqlLedger
from service.use_cases import kept_kinds as kinds
from service.use_cases.acknowledge_margin_alert import acknowledge_margin_alert
from service.use_cases.conditions import Condition
from service.use_cases.feed_links import FeedAsked, create_feed
from service.use_cases.figure_timeline import FigureTimeline
from service.use_cases.keep_record import keep_record
from service.use_cases.keep_webhook import WebhookAsked, change_webhook, create_webhook, delete_webhook
from service.use_cases.keys import create_key, revoke_key
from service.use_cases.ports import Asker
from service.use_cases.raise_margin_alerts import MarginWatch
from service.use_cases.record_price import PriceAsked, record_price
from service.use_cases.record_sales import SentDay, record_sales
from service.use_cases.record_yield_test import record_yield_test
from service.use_cases.snapshots import Snapshots
from service.use_cases.withdraw_price import withdraw_price
from tests.builders import (
    a_dish,
    a_line,
    a_primal,
    a_recipe,
    a_seamed_topside,
    a_yield_test,
    an_item,
    some_settings,
)

CHEF = Asker("key-1", "the chef", "request-1")
NEW, ANY = Condition(), Condition(any_tag=True)
RECORDS = (
    (kinds.settings_kind, "settings", some_settings(), ANY),
    (kinds.supplier_kind, "fenmoor", Supplier("fenmoor", "Fenmoor"), NEW),
    (kinds.ingredient_kind, "beef-topside", a_primal(), NEW),
    (kinds.breakdown_kind, "seamed-topside", None, NEW),
    (kinds.recipe_kind, "jus", a_recipe("jus", a_line("cut topside-mince"), makes_unit="kg"), NEW),
    (kinds.dish_kind, "plate", a_dish("plate", a_line("cut topside-cap"), a_line("recipe jus", unit="kg")), NEW),
    (kinds.supplier_kind, "fenmoor", Supplier("fenmoor", "Fenmoor of Holt"), ANY))


def fill(engines: Engines) -> SqlLedger:
    """Some fifteen revisions: every kind of record, one replaced, prices, one withdrawn, a test, sales, keys."""
    ledger = SqlLedger(engines)
    for kind, code, record, condition in RECORDS:
        kept = a_seamed_topside() if record is None else record
        keep_record(ledger, kind, getattr(kept, "code", code), kept, None, condition, CHEF)
    post_prices(ledger, 3)
    withdraw_price(ledger, "beef-topside", ledger.kitchen(ledger.head().revision).prices["beef-topside"][0].id,
                   "a slip of the pen", CHEF)
    test = a_yield_test("8.6", {
        "topside-cap": "0.742", "topside-roast": "6.1", "topside-mince": "0.8", "topside-fat": "0.6",
        "topside-silverskin": "0.3"})
    record_yield_test(ledger, test, CHEF, unaccounted_confirmed=True)
    record_sales(ledger, [SentDay(date(2026, 3, 1), (
        SalesLine("1042", Decimal("2.5"), Decimal("45.8"), SaleKind.SALE),))], CHEF)
    create_key(ledger, "till", ("costs:read",), None, CHEF)
    revoke_key(ledger, ledger.every_key()[0].id, CHEF)
    return ledger


def post_prices(ledger: SqlLedger, count: int, first: int = 0, asker: Asker = CHEF) -> None:
    """Post prices of the primal, one revision each."""
    for number in range(first, first + count):
        asked = PriceAsked("fenmoor", Decimal(14) + Decimal(number) / 100, Decimal(1), "kg")
        record_price(ledger, "beef-topside", asked, asker)


def fill_with_all(engines: Engines) -> SqlLedger:
    """That, and all else that `verify` looks at: an item, a link, a webhook that was changed and one that was deleted,
    and margin alerts, one closed, one open and noted twice."""
    ledger = fill(engines)
    keep_record(ledger, kinds.supplier_item_kind, "fenmoor/10-2345", an_item(), None, NEW, CHEF)
    create_feed(ledger, FeedAsked("Sheet", ("dish-costs",), ("dish", "food_cost"), never_expires=True),
                ("costs:read",), CHEF)
    for description in ("a till", "a desk"):
        create_webhook(ledger, _a_webhook(description), True, _anywhere, CHEF)
    first, second = ledger.webhooks.every()
    change_webhook(ledger, first.id, _a_webhook("the till by the door"), True, _anywhere, ANY, CHEF)
    delete_webhook(ledger, second.id, ANY, CHEF)
    for menu_price, condition in (("2", ANY), ("4000", ANY), ("3", ANY)):
        dear = a_dish("plate", a_line("cut topside-cap"), a_line("recipe jus", unit="kg"), menu_price=menu_price)
        keep_record(ledger, kinds.dish_kind, "plate", dear, None, condition, CHEF)
    watch = MarginWatch(ledger, FigureTimeline(ledger, Snapshots(ledger)), lambda: 0.0)
    head = ledger.head()
    watch.look(head, ledger.today_at(head), 10)
    noted = ledger.margin_alerts.open()[0].id
    for note in ("seen", "a new price is due"):
        acknowledge_margin_alert(ledger, watch, ledger.head(), ledger.today(), noted, note, CHEF)
    return ledger


def _a_webhook(description: str) -> WebhookAsked:
    return WebhookAsked("https://hooks.example/x", ("dish.cost_changed",), description)


def _anywhere(_url: str) -> None:
    """Any address will do: nothing is sent."""
