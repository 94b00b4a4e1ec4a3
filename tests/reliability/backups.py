"""T33: backups under load, each restored into either engine, verified and recomputed.

Four writers go on while backups are made; each is restored into a fresh ledger of the other engine, or of the same one.
What was acknowledged before a backup began is in it; its records are those of the ledger as known at its revision; and
its figures, recomputed exactly, are those that the ledger itself has there.
"""

import threading
from datetime import date
from pathlib import Path
from typing import Any

from service.persistence.backup import backup
from service.persistence.engines import Engines, open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.persistence.restoring import BackupDamaged, restore
from service.persistence.whole import what_is_wrong
from service.use_cases.ports import Asker
from service.use_cases.verify_figures import exact_rows
from tests.reliability import sabotage
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.small_ledger import fill, post_prices

WRITERS = 4
DAY = date(2027, 1, 4)


class _Writers:
    """Threads that post prices until stopped; `acknowledged` is the newest revision that one of them was told."""

    def __init__(self, engines: Engines) -> None:
        self.ledger = SqlLedger(engines)
        self.acknowledged, self.stopped = self.ledger.head().revision, threading.Event()
        self.faults: list[str] = []
        self.threads = [threading.Thread(target=self._write, args=(number,)) for number in range(WRITERS)]

    def __enter__(self) -> "_Writers":
        for thread in self.threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stopped.set()
        for thread in self.threads:
            thread.join()

    def _write(self, writer: int) -> None:
        number = 0
        while not self.stopped.wait(0.01):
            number += 1
            try:
                asker = Asker(f"writer-{writer}", "a writer", f"request-{number}")
                post_prices(self.ledger, 1, writer * 1_000 + number, asker)
            except Exception as wrong:  # whatever it is, it is a fault
                self.faults.append(f"a write failed under a backup: {wrong}")
                return
            self.acknowledged = max(self.acknowledged, self.ledger.head().revision)


def run(run: Run) -> Verdict:
    """Back up, restore, compare."""
    engines = open_engines(run.database_url)
    ledger, faults, done, grown = fill(engines), list[str](), 0, 0
    with sabotage.broken(run.sabotage), _Writers(engines) as writers:
        begun = writers.acknowledged
        while done < run.cases and run.in_time and not faults:
            path, before = run.folder / f"backup-{done}.jsonl{'.gz' * (done % 2)}", writers.acknowledged
            written = backup(engines, path)
            grown = max(grown, writers.acknowledged - before)
            if written.revision < before:
                faults.append(f"revision {before} was acknowledged before the backup of revision {written.revision}")
            faults += [f"backup {done}: {fault}" for fault in _looked_at(run, ledger, path, done)]
            path.unlink()
            done += 1
    engines.dispose()
    if writers.acknowledged == begun:
        faults.append("nothing was written meanwhile: it was no load")
    return Verdict(done, (*faults, *writers.faults), {"last revision": writers.acknowledged,
                                                      "most written during one backup": grown})


def _looked_at(run: Run, ledger: SqlLedger, path: Path, case: int) -> list[str]:
    other = _another(run, case)
    try:
        revision = restore(other, path)
        faults = what_is_wrong(other)
        restored = SqlLedger(other)
        mine, theirs = ledger.kitchen(revision), restored.kitchen(revision)
        if mine != theirs:
            faults.append(f"its records are not those of the ledger at revision {revision}")
        if _figures(mine) != _figures(theirs):
            faults.append(f"its figures are not those of the ledger at revision {revision}")
        if restored.signing_secret() == ledger.signing_secret():
            faults.append("tags and cursors of before the restore hold after it")
        return faults
    except BackupDamaged as damaged:
        return [str(damaged)]
    finally:
        other.dispose()


def _another(run: Run, case: int) -> Engines:
    """A fresh ledger: of the other engine where there is one, by turns."""
    on_sqlite = run.server is None or case % 2 == 0
    url = f"sqlite:///{run.folder}/restored-{case}.db" if on_sqlite else run.server.create()
    migrate(url)
    return open_engines(url)


def _figures(kitchen: Any) -> Any:
    return exact_rows(kitchen, DAY)


PROGRAMME = Programme(
    "backups", "T33", "a backup taken under load restores, on either engine, to a ledger that is whole", "backups", 4,
    100, run, sabotages=("backup_without_one_view",))
