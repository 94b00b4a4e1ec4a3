"""`seamcost deliver`: tell webhooks what happened, and deliver it, until told to stop."""

import logging
import signal
from types import FrameType

import click

from service import wiring
from service.cli.flags import database_flag, settings_of


@click.command()
@click.option("--once", is_flag=True, help="Deliver what is due now, and end.")
@database_flag
def deliver(once: bool, database: str | None) -> None:
    """Deliver webhook messages, until stopped by Ctrl-C or SIGTERM.

    Needed beside `serve` on PostgreSQL; on the embedded database `serve` does it too. Several may run at once: each
    message is taken by one of them, and by another one when that one is no more.
    """
    logging.basicConfig(format="%(asctime)s %(levelname)s %(message)s")
    settings = settings_of(database)
    with wiring.opened_deliverer(settings) as deliverer:
        if once:
            deliverer.run_until_idle()
            return

        def stop(_signal: int, _frame: FrameType | None) -> None:
            deliverer.stop()

        for each in (signal.SIGTERM, signal.SIGINT):
            signal.signal(each, stop)
        click.echo("Delivering webhook messages. Ctrl-C stops it.", err=True)
        deliverer.run()
