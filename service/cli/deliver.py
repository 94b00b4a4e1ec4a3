"""`seamcost deliver`: tell webhooks what happened, and deliver it, until told to stop."""

import logging
import signal
from contextlib import suppress
from functools import partial
from pathlib import Path
from types import FrameType

import click

from service import wiring
from service.cli.clear_faults import AskedWrongly
from service.cli.flags import database_flag, log_flag, settings_of

LOG = logging.getLogger("seamcost.deliver")


@click.command()
@click.option("--once", is_flag=True, help="Deliver what is due now, and end.")
@click.option("--heartbeat", type=click.Path(dir_okay=False, path_type=Path), metavar="FILE",
              help="Touch FILE whenever a turn came through, every second or so: for who looks after this process.")
@database_flag
@log_flag
def deliver(once: bool, heartbeat: Path | None, database: str | None, log_format: str | None) -> None:
    """Deliver webhook messages, until stopped by Ctrl-C or SIGTERM.

    Needed beside `serve` on PostgreSQL; on the embedded database `serve` does it too. Several may run at once: each
    message is taken by one of them, and by another one when that one is no more.
    """
    settings = settings_of(database, log_format=log_format)
    wiring.write_log(settings)
    if heartbeat is not None and not heartbeat.parent.is_dir():
        raise AskedWrongly(f"{heartbeat} is in no folder that is there; give --heartbeat another.")
    with wiring.opened_deliverer(settings) as deliverer:
        if once:
            deliverer.run_until_idle()
            return

        def stop(_signal: int, _frame: FrameType | None) -> None:
            deliverer.stop()

        for each in (signal.SIGTERM, signal.SIGINT):
            signal.signal(each, stop)
        if settings.log_format == "json":
            LOG.info("", extra={"fields": {"event": "delivering"}})
        else:
            click.echo("Delivering webhook messages. Ctrl-C stops it.", err=True)
        deliverer.run(partial(_touch, heartbeat))


def _touch(heartbeat: Path | None) -> None:
    """A file that cannot be written is not fresh, which is what is looked for: no reason to stop delivering."""
    if heartbeat is not None:
        with suppress(OSError):
            heartbeat.touch()
