"""`seamcost backup`: to a file, or into a folder that keeps the newest; once, or every so many hours until stopped."""

import signal
import threading
import time
from pathlib import Path
from types import FrameType

import click

from service import operating
from service.cli.clear_faults import AskedWrongly, ClearFault, clear_faults
from service.cli.flags import database_flag, keep_files_private, settings_of
from service.cli.progress import Progress
from service.persistence.backup import Written
from service.settings import Settings

SOONER = 12
"""After one that failed, the next is tried after this part of the time between two."""


@click.command()
@click.argument("target", type=click.Path(path_type=Path))
@click.option("--force", is_flag=True, help="Replace TARGET if it is a file that is there.")
@click.option("--prove", is_flag=True,
              help="Restore what was written into a ledger that is thrown away, and verify that, before it counts.")
@click.option("--keep", type=click.IntRange(1, 10_000), metavar="N", help="In a folder: keep the newest N.")
@click.option("--every", type=click.FloatRange(0, 24 * 366, min_open=True), metavar="HOURS",
              help="Into a folder: now and every so many hours, until stopped by Ctrl-C or SIGTERM.")
@database_flag
def backup(target: Path, force: bool, prove: bool, keep: int | None, every: float | None, database: str | None
           ) -> None:
    """Write the whole ledger to TARGET, while it is in use.

    TARGET is a file, compressed when its name ends in .gz; or a folder that is there, in which each backup is named by
    its moment and revision. What is written is one consistent view, as JSON lines, the same for both kinds of database,
    so that a ledger can move from one to the other. It holds prices and the hashes of keys: keep it safe.

    Prints REVISION:HASH of what was written: kept elsewhere, it is an anchor for `seamcost verify`.
    """
    settings = settings_of(database)
    keep_files_private()
    if target.is_dir():
        if every is None:
            _into(settings, target, keep, prove)
        else:
            _again_and_again(settings, target, keep, prove, every * 3600)
        return
    if keep or every:
        raise AskedWrongly(f"{target} is no folder that is there; --keep and --every are for backups in a folder.")
    if target.exists() and not force:
        raise ClearFault(f"{target} is there already; give another name, or --force to replace it.")
    progress = Progress("Backing up", "rows")
    written = operating.backup(settings, target, progress, prove)
    progress.finish(written.rows)
    _tell(written)


def _into(settings: Settings, folder: Path, keep: int | None, prove: bool) -> None:
    progress = Progress("Backing up", "rows")
    kept = operating.backup_into(settings, folder, keep, prove, progress)
    progress.finish(kept.written.rows)
    proven = ", proven: it restores to a ledger that is whole" if prove else ""
    removed = f"; {len(kept.removed)} older removed" if kept.removed else ""
    click.echo(f"{kept.path}{proven}{removed}.", err=True)
    _tell(kept.written)


def _tell(written: Written) -> None:
    click.echo(f"{written.revision}:{written.hash}")


def _again_and_again(settings: Settings, folder: Path, keep: int | None, prove: bool, seconds: float) -> None:
    """One that fails is told, and tried again soon: what comes back by itself needs no hand."""
    stopped = threading.Event()

    def stop(_signal: int, _frame: FrameType | None) -> None:
        stopped.set()

    for each in (signal.SIGTERM, signal.SIGINT):
        signal.signal(each, stop)
    click.echo(f"Backing up into {folder} every {seconds / 3600:g} hours. Ctrl-C stops it.", err=True)
    while not stopped.is_set():
        begun = time.monotonic()
        wait = seconds
        try:
            with clear_faults():
                _into(settings, folder, keep, prove)
        except click.ClickException as failed:
            click.echo(f"This backup failed: {failed.format_message()}", err=True)
            wait = seconds / SOONER
        stopped.wait(max(0.0, begun + wait - time.monotonic()))
