"""Joins the parts to what serves and delivers: the only module that knows them all.

Nothing is connected until something is asked.
"""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from functools import cache, partial
from time import monotonic
from typing import NamedTuple

from flask import Flask

from service.integrations.identity.checking import token_check
from service.integrations.price_lists.reading import read_price_file
from service.integrations.price_lists.templates import csv_template, xlsx_template
from service.integrations.sales.sales_csv import read_sales_csv
from service.integrations.webhooks.addresses import target_check
from service.integrations.webhooks.deliverer import Deliverer
from service.integrations.webhooks.sending import sender
from service.integrations.workbook.writing import workbook_bytes
from service.interpreter import suit_the_service
from service.operating import opened_ledger
from service.persistence import schema_fit
from service.persistence.clock import Clock, clock_for, system_clock
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.watched_ledger import watched_ledger
from service.rest.app import create_app
from service.rest.link_tokens import keep_tokens_out_of_logs
from service.rest.openapi_layer.document import document_bytes
from service.rest.openapi_layer.examples import load_examples
from service.rest.pages.every_page import every_page
from service.rest.pages.frame import site_pages
from service.rest.paging import Cursors
from service.rest.places import Places
from service.rest.position import Positions
from service.rest.resources.dish_cost_changes import dish_cost_changes
from service.rest.resources.every_record import Files, every_record
from service.rest.resources.feed_files import feed_files
from service.rest.resources.feeds import feeds
from service.rest.resources.margin_alerts import margin_alerts
from service.rest.resources.webhook_deliveries import webhook_deliveries
from service.rest.resources.webhooks import webhooks
from service.rest.schemas.webhook_events import MESSAGES
from service.rest.sessions import Sessions
from service.rest.watched import Watcher, request_at_hand
from service.settings import Settings
from service.shipped_files import shipped_folder
from service.use_cases.allowances import Allowances
from service.use_cases.asking_key import Callers
from service.use_cases.figure_timeline import FigureTimeline
from service.use_cases.ledger_unavailable import LedgerUnavailable
from service.use_cases.ports import Ledger
from service.use_cases.raise_margin_alerts import MarginWatch
from service.use_cases.read_margin_alerts import PASSING_WALK_SECONDS
from service.use_cases.read_proposals import Proposals
from service.use_cases.reviews import Reviews
from service.use_cases.snapshots import Snapshots
from service.use_cases.tell_webhooks import Telling
from service.use_cases.waiting import Waiting
from service.use_cases.webhook_sending import CheckTarget
from service.watching.first_snapshot import FirstSnapshot, build_first
from service.watching.readiness import Readiness
from service.watching.watch import Watch, concerns_of
from service.watching.writing_logs import write_logs
from service.web.docs_pages import make_docs
from service.web.page_making import make_page
from service.web.site_making import make_site

PARTS = "seamcost"
"""Where an application keeps what others of the same process share with it."""
_FILES = Files(read_price_file, read_sales_csv, {"csv": csv_template, "xlsx": xlsx_template}, workbook_bytes)


class Parts(NamedTuple):
    """What the deliverer and the server of a process share with its application. `first` is a worker's."""

    positions: Positions
    timeline: FigureTimeline
    watch: MarginWatch
    waiting: Waiting
    first: FirstSnapshot | None


def web_app(settings: Settings, stays: Callable[[], bool] = lambda: True,
            started: Callable[[], bool] = lambda: True) -> Flask:
    """The application of a worker, which is ready while it `stays`, once it and the others have `started`. Connects at
    its first request."""
    suit_the_service()
    write_log(settings)
    watch = Watch(settings)
    engines = open_engines(settings.database_url, settings.database_connections)
    clock = clock_for(settings.test_mode, settings.clock_file)
    ledger, watched = SqlLedger(engines, clock, watch.lock_waited), watched_ledger(engines, watch.figures)
    snapshots = Snapshots(ledger, watch.building)
    readiness = Readiness(partial(schema_fit.fits, engines), partial(build_first, ledger, snapshots), stays, started)
    app = _app(ledger, clock, settings, readiness.soon, snapshots=snapshots, first=readiness.first,
               watchers=watch.of_requests(), concerns=lambda: concerns_of(watched, clock))
    return watch.beside(app, watched, readiness.now, clock)


def parts_of(app: Flask) -> Parts:
    """What an application shares."""
    parts: Parts = app.extensions[PARTS]
    return parts


def write_log(settings: Settings) -> None:
    """Write the log of this process as the settings say."""
    keep_tokens_out_of_logs()
    write_logs(settings, request_at_hand)


def deliverer_in(app: Flask, settings: Settings) -> Deliverer:
    """The deliverer of a worker: it shares the application's ledger, and what is kept of its figures."""
    parts = parts_of(app)
    telling = Telling(parts.positions.ledger, parts.timeline, parts.positions.snapshots)
    return _deliverer(parts.positions.ledger, telling, parts.watch, settings)


def app_on(ledger: Ledger, settings: Settings, check_target: CheckTarget | None = None, clock: Clock | None = None
           ) -> Flask:
    """The application on a ledger that is open already, for requests that need no network."""
    now = clock or clock_for(settings.test_mode, settings.clock_file)
    return _app(ledger, now, replace(settings, requests_per_minute=0), dict, check_target)


def openapi_document() -> bytes:
    """The API document, generated from the code. Needs no database."""
    engines = open_engines("sqlite:///never-opened.db")
    return document_bytes(_app(SqlLedger(engines), system_clock, Settings(), dict))


@contextmanager
def opened_deliverer(settings: Settings) -> Iterator[Deliverer]:
    """The deliverer of a process of its own."""
    suit_the_service()
    with opened_ledger(settings) as ledger:
        timeline = FigureTimeline(ledger, snapshots := Snapshots(ledger))
        watch = MarginWatch(ledger, timeline, monotonic)
        yield _deliverer(ledger, Telling(ledger, timeline, snapshots), watch, settings)


def _app(ledger: Ledger, clock: Clock, settings: Settings, readiness: Callable[[], Mapping[str, bool]],
         check_target: CheckTarget | None = None, snapshots: Snapshots | None = None,
         first: FirstSnapshot | None = None, watchers: tuple[Watcher, ...] = (),
         concerns: Callable[[], Mapping[str, bool]] = dict) -> Flask:
    positions = Positions(ledger, snapshots or Snapshots(ledger), Cursors(ledger.signing_secret))
    timeline = FigureTimeline(ledger, positions.snapshots)
    watch = MarginWatch(ledger, timeline, monotonic)
    waiting = Waiting(settings.threads // 2, lambda: (ledger.head().revision, ledger.today()),
                      (LedgerUnavailable,))

    callers = Callers(ledger, clock, settings.requests_per_minute, token_check(settings.oidc, clock))
    allowances, site = Allowances(ledger.bookings, clock), make_site()
    app = create_app(
        [dish_cost_changes(positions, timeline, waiting, callers.still_opens),
         *every_record(positions, proposals(ledger, positions.snapshots), _FILES), margin_alerts(positions, watch),
         webhooks(ledger, check_target or target_check(settings.webhook_networks)),
         webhook_deliveries(positions, clock), feeds(ledger), feed_files(positions, allowances, clock)],
        authenticate=callers.with_key, by_token=callers.with_token,
        sessions=Sessions(callers.with_key, cache(ledger.signing_secret), clock), allowances=allowances,
        readiness=readiness, long_answers=Places(most := max(1, settings.threads // 8), most),
        make_docs=make_docs, prices_page=make_page("prices"), site=site,
        pages=site_pages(every_page(positions, watch), site.render, positions),
        examples=load_examples(shipped_folder("openapi") / "examples"), messages=MESSAGES,
        unavailable=(LedgerUnavailable,), watchers=watchers, concerns=concerns)
    app.extensions[PARTS] = Parts(positions, timeline, watch, waiting, first)
    return app


def _deliverer(ledger: Ledger, telling: Telling, watch: MarginWatch, settings: Settings) -> Deliverer:
    clock = clock_for(settings.test_mode, settings.clock_file)
    return Deliverer(ledger, telling, sender(settings.webhook_networks, now=clock), clock,
                     in_passing=lambda: watch.look_in_passing(PASSING_WALK_SECONDS))


def proposals(ledger: Ledger, snapshots: Snapshots | None = None) -> Proposals:
    """What reading and accepting price proposals needs."""
    return Proposals(ledger, snapshots or Snapshots(ledger), Reviews(ledger))
