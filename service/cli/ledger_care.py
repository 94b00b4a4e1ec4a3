"""Care of the ledger: bring its database up to date, restore it, verify its chain."""

from pathlib import Path

import click

from service import wiring
from service.cli.clear_faults import ClearFault
from service.cli.flags import database_flag, keep_files_private, settings_of
from service.cli.progress import Progress


@click.command()
@database_flag
def migrate(database: str | None) -> None:
    """Bring the database to the form that this release works on.

    Creates a SQLite file that is missing. Safe to repeat, and to run from several hosts at once: one does the work
    under a lock, the others find it done.
    """
    settings = settings_of(database)
    keep_files_private()
    wiring.migrate(settings)
    click.echo("The database is up to date.", err=True)


@click.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@database_flag
def restore(file: Path, database: str | None) -> None:
    """Restore a backup from FILE into an empty database.

    All of it, verified link by link, or nothing; a ledger that holds anything is never written over. Clients have to
    read their tags and cursors anew, and Idempotency-Keys of before do not hold.
    """
    settings = settings_of(database)
    keep_files_private()
    wiring.migrate(settings)
    revision = wiring.restore(settings, file, Progress("Restoring", "rows"))
    click.echo(f"Restored and verified; the ledger is at revision {revision}.", err=True)


@click.command()
@click.option("--anchor", "anchors", metavar="REVISION:HASH", multiple=True,
              help="A hash noted earlier and kept elsewhere; the ledger must still have it. May be repeated.")
@database_flag
def verify(anchors: tuple[str, ...], database: str | None) -> None:
    """Walk the chain of the ledger and say whether it holds.

    The chain is over what each revision recorded, as it was stored. The tables that figures are computed from are
    written beside it and not compared with it here.

    Prints REVISION:HASH of the head: note it somewhere else, and give it as --anchor the next time.
    """
    settings = settings_of(database)
    noted = dict(_anchor(text) for text in anchors)
    breaks = wiring.verify(settings, noted)
    for broken in breaks:
        click.echo(f"revision {broken.revision}: {broken.detail}", err=True)
    if breaks:
        raise ClearFault(f"The chain does not hold: {len(breaks)} break{'s' * (len(breaks) > 1)}.")
    with wiring.opened_ledger(settings) as ledger:
        head = ledger.head()
    click.echo(f"The chain holds up to revision {head.revision}.", err=True)
    click.echo(f"{head.revision}:{head.hash}")


def _anchor(text: str) -> tuple[int, str]:
    revision, _, noted = text.partition(":")
    if not (revision.isascii() and revision.isdigit() and len(noted) == 64):
        raise click.BadParameter(f"{text!r} is no anchor; give REVISION:HASH as `seamcost verify` prints it.")
    return int(revision), noted
