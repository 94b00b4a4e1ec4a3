"""What whoever runs the service does with its ledger: open it, bring it up to date, back it up, restore and verify it.

The settings name the ledger. Of the parts only persistence is known here, and nothing stays connected afterwards.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from service.persistence import backup as backing_up
from service.persistence import backup_folder, migrating, restoring
from service.persistence.clock import clock_for
from service.persistence.engines import Engines, open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.where_it_stands import Place, place_of_database
from service.persistence.whole import what_is_wrong
from service.settings import Settings


@contextmanager
def opened_ledger(settings: Settings) -> Iterator[SqlLedger]:
    """The ledger, for the length of a command.

    Raises:  LedgerUnavailable once it is used.
    """
    with _opened(settings) as engines:
        yield SqlLedger(engines, clock_for(settings.test_mode, settings.clock_file))


def migrate(settings: Settings) -> None:
    """Bring the database to the newest schema, under a lock."""
    migrating.migrate(settings.database_url)


def backup(settings: Settings, path: Path, progress: Callable[[int], None], proven: bool = False
           ) -> backing_up.Written:
    """Write the whole ledger to a file, which it becomes once it is proven, where that is asked for."""
    def prove(unfinished: Path) -> None:
        backup_folder.prove(unfinished, path.with_name(f".{path.name}.proving"), what_is_wrong)

    with _opened(settings) as engines:
        return backing_up.backup(engines, path, progress, prove if proven else None)


def backup_into(settings: Settings, folder: Path, keep: int | None, proven: bool, progress: Callable[[int], None]
                ) -> backup_folder.Kept:
    """Write a backup into a folder of them, prove it where that is asked for, and let the oldest go."""
    with _opened(settings) as engines:
        return backup_folder.back_up_into(
            engines, folder, now(settings), keep, what_is_wrong if proven else None, progress)


def restore(settings: Settings, path: Path, progress: Callable[[int], None]) -> int:
    """Restore a backup into an empty ledger; the revision that it stands at."""
    with _opened(settings) as engines:
        return restoring.restore(engines, path, progress)


def verify(settings: Settings, anchors: Mapping[int, str], quick: bool = False,
           progress: Callable[[str, int], None] = lambda _what, _done: None) -> Sequence[str]:
    """What is wrong with the ledger, a sentence each: its chain, held to hashes noted elsewhere, and unless `quick` the
    tables beside it and the published figures."""
    with _opened(settings) as engines:
        return what_is_wrong(engines, anchors, quick, progress)


def now(settings: Settings) -> datetime:
    """The time, by the clock that the workers go by."""
    return clock_for(settings.test_mode, settings.clock_file)()


def place_of(settings: Settings) -> Place:
    """Where the database stands, as far as it matters to who begins to serve."""
    with _opened(settings) as engines:
        return place_of_database(engines)


@contextmanager
def _opened(settings: Settings) -> Iterator[Engines]:
    engines = open_engines(settings.database_url, settings.database_connections)
    try:
        yield engines
    finally:
        engines.dispose()
