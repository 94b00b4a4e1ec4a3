"""Care of the ledger: bring its database up to date, restore it, verify its chain."""

from pathlib import Path

import click

from service import operating
from service.cli.clear_faults import ClearFault
from service.cli.flags import database_flag, keep_files_private, settings_of
from service.cli.progress import Progress

MOST_TOLD = 100


@click.command()
@database_flag
def migrate(database: str | None) -> None:
    """Bring the database to the form that this release works on.

    Creates a SQLite file that is missing. Safe to repeat, and to run from several hosts at once: one does the work
    under a lock, the others find it done.
    """
    settings = settings_of(database)
    keep_files_private()
    operating.migrate(settings)
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
    operating.migrate(settings)
    revision = operating.restore(settings, file, Progress("Restoring", "rows"))
    click.echo(f"Restored and verified; the ledger is at revision {revision}.", err=True)


@click.command()
@click.option("--anchor", "anchors", metavar="REVISION:HASH", multiple=True,
              help="A hash noted earlier and kept elsewhere; the ledger must still have it. May be repeated.")
@click.option("--quick", is_flag=True, help="The chain alone, not the tables beside it nor the figures.")
@database_flag
def verify(anchors: tuple[str, ...], quick: bool, database: str | None) -> None:
    """Say whether the ledger is whole.

    Walks the chain of hashes; holds every record, price, test, key and sale to the entry that made it; and recomputes
    published figures, today's and those of some earlier revisions, exactly and in another way than they are published.
    What is not whole is named, and the exit status is 1.

    Prints REVISION:HASH of the head: note it somewhere else, and give it as --anchor the next time.
    """
    settings = settings_of(database)
    noted = dict(_anchor(text) for text in anchors)
    shown: dict[str, Progress] = {}

    def progress(what: str, done: int) -> None:
        shown.setdefault(what, Progress("Verifying", what))(done)

    wrong = operating.verify(settings, noted, quick, progress)
    for told in wrong[:MOST_TOLD]:
        click.echo(told, err=True)
    if wrong:
        more = f", of which the first {MOST_TOLD} are named" if len(wrong) > MOST_TOLD else ""
        raise ClearFault(f"The ledger does not hold: {len(wrong)} {'thing is' if len(wrong) == 1 else 'things are'} "
                         f"wrong{more}.")
    with operating.opened_ledger(settings) as ledger:
        head = ledger.head()
    looked = "the chain holds" if quick else "the chain holds, the records follow from it, the figures are right"
    click.echo(f"Up to revision {head.revision} {looked}.", err=True)
    click.echo(f"{head.revision}:{head.hash}")


def _anchor(text: str) -> tuple[int, str]:
    revision, _, noted = text.partition(":")
    if not (revision.isascii() and revision.isdigit() and len(noted) == 64):
        raise click.BadParameter(f"{text!r} is no anchor; give REVISION:HASH as `seamcost verify` prints it.")
    return int(revision), noted
