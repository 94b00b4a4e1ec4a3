"""`seamcost serve`: bring the database up to date, load the demo if asked to, and serve until told to stop."""

import logging
from collections.abc import Callable
from datetime import timedelta
from textwrap import fill
from typing import Any

import click

from service import operating, wiring
from service.cli.asking import asker
from service.cli.clear_faults import AskedWrongly, ClearFault
from service.cli.costs import DISHES, snapshot_of, table_of
from service.cli.counting_workers import counting
from service.cli.delivering_worker import DeliveringWorker
from service.cli.demo_kitchen import about, demo_requests
from service.cli.demo_loading import DEMO, DemoRefused, NotTheDemo, load_demo
from service.cli.flags import database_flag, keep_files_private, listening_flags, log_flag, settings_of
from service.cli.graceful_stop import Stopping
from service.cli.gunicorn_server import MEMORY_FOLDER, Server, refuse_port_in_use, server_settings, workers_of
from service.cli.progress import Progress
from service.cli.starting import Starting
from service.persistence.where_it_stands import Place
from service.settings import Settings
from service.use_cases.keys import create_key

DEMO_KEY_HOURS = 24
LOG = logging.getLogger("seamcost.serve")


@click.command()
@click.option("--demo", is_flag=True, help="Load an invented kitchen into an empty SQLite file first; print a key.")
@click.option("--migrate/--no-migrate", default=None,
              help="Bring the database up to date first. [SEAMCOST_MIGRATE; unless set: --migrate]")
@database_flag
@listening_flags
@log_flag
def serve(demo: bool, migrate: bool | None, database: str | None, **flags: int | str | None) -> None:
    """Serve the REST API, until stopped by Ctrl-C or SIGTERM.

    Brings the database up to date first, under a lock; with --no-migrate it leaves that to `seamcost migrate`. With
    --demo an invented kitchen is there to look at: each start prints a fresh key of 24 hours and the cost of every
    dish. The demo never goes over other records.

    On SIGTERM it answers what it has been asked, and ends; SIGHUP changes the workers for new ones.
    """
    settings = settings_of(database, migrate=None if migrate is None else int(migrate), **flags)
    wiring.write_log(settings)
    if demo:
        _refuse_demo_on_a_server(settings)
    place = operating.place_of(settings)
    _refuse_over_a_network(place)
    count = workers_of(settings, place.several_processes)
    warn_of_connections(settings, count, place.connections)
    refuse_port_in_use(settings)
    keep_files_private()
    if settings.migrate:
        operating.migrate(settings)
    told = _demo(settings) if demo else _hint(settings)

    def ready(address: str) -> None:
        if settings.log_format == "json":
            LOG.info("", extra={"fields": {"event": "serving", "address": address, "workers": count}})
        else:
            click.echo(f"Serving at {address} with the board there and docs at {address}/docs. Ctrl-C stops it.")
        if told and settings.log_format == "json" and not demo:
            LOG.warning(told)
        elif told:
            click.echo(told.replace("ADDRESS", address))

    starting, stopping = Starting(count), Stopping()
    with counting(settings.metrics_port is not None, MEMORY_FOLDER) as count_gone:
        hooks = _hooks(settings, starting, stopping, count_gone)
        Server(server_settings(settings, count, ready, hooks),
               lambda: wiring.web_app(settings, lambda: not stopping.has_begun, lambda: starting.is_over),
               starting, stopping, settings.drain_seconds).run()


def _hooks(settings: Settings, starting: Starting, stopping: Stopping, count_gone: Callable[[int], None]
           ) -> dict[str, Any]:
    """A worker begins with its first snapshot. Who waits leaves when the worker ends or the service leaves. On the
    embedded database a worker delivers webhooks; on a server `seamcost deliver` does."""

    def begin(worker: Any) -> None:
        parts = wiring.parts_of(worker.wsgi)
        parts.waiting.leave_when(lambda: stopping.has_begun or not worker.alive)
        if delivering is not None:
            delivering.begin(worker)
        starting.begin(worker, parts.first)

    def gone(_arbiter: Any, worker: Any) -> None:
        starting.gone(worker)
        count_gone(worker.pid)

    embedded = settings.database_url.startswith("sqlite")
    delivering = DeliveringWorker(lambda app: wiring.deliverer_in(app, settings)) if embedded else None
    leaves = {} if delivering is None else {"worker_exit": delivering.end}
    return {"post_worker_init": begin, "child_exit": gone} | leaves


def _refuse_over_a_network(place: Place) -> None:
    if place.network is not None:
        raise AskedWrongly(f"The database lies on a file system that reaches over a network ({place.network}), where "
                           "SQLite can damage it: its log needs memory that all of its users share. Put it on a disk "
                           "of this host, or use PostgreSQL.")


def warn_of_connections(settings: Settings, workers: int, allowed: int | None) -> None:
    """Say so where the workers of this host alone may hold more connections than the server gives."""
    most = workers * settings.database_connections
    if allowed is not None and most > allowed:
        LOG.warning(
            "%d workers may hold %d connections each, %d together, and the PostgreSQL server gives %d to all hosts and "
            "deliverers together: whoever gets none answers 503. Set fewer SEAMCOST_WORKERS or "
            "SEAMCOST_DATABASE_CONNECTIONS, raise max_connections, or put a pooler between.",
            workers, settings.database_connections, most, allowed)


def _refuse_demo_on_a_server(settings: Settings) -> None:
    if not settings.database_url.startswith("sqlite"):
        raise AskedWrongly("The demo goes into an embedded database: leave --database out, or give it a SQLite file, "
                           "such as sqlite:///demo.db")


def _demo(settings: Settings) -> str:
    """Load the demo, and give what is told once the service listens."""
    with operating.opened_ledger(settings) as ledger:
        total = len(tuple(demo_requests(ledger.today())))
        progress = Progress("Loading the demo kitchen", "requests", total)
        try:
            loaded = load_demo(ledger, wiring.app_on(ledger, settings), operating.now(settings), progress)
        except NotTheDemo as other:
            raise AskedWrongly(str(other)) from None
        except DemoRefused as refused:
            raise ClearFault(str(refused)) from None
        if loaded:
            progress.finish(total)
        until = operating.now(settings) + timedelta(hours=DEMO_KEY_HOURS)
        key = create_key(ledger, "demo visitor", ["admin"], until, asker(DEMO)).document["key"]
        return "\n".join(("", fill(about(), 100), "", table_of(DISHES, snapshot_of(ledger)), "",
                          f"Key, for {DEMO_KEY_HOURS} hours: {key}", _first_request(key)))


def _first_request(key: str) -> str:
    return f'Try:  curl -H "Authorization: Bearer {key}" ADDRESS/v1/dish-costs/grilled-cap'


def _hint(settings: Settings) -> str:
    """What is told of a ledger that nobody can use yet."""
    with operating.opened_ledger(settings) as ledger:
        usable = any(key.revoked_at is None for key in ledger.every_key())
    return "" if usable else 'No key opens it yet. Make one: seamcost keys create "head chef" --scope admin'
