"""T33: backups under load, each restored into either engine, verified and recomputed.

Four writers go on while backups are made; each is restored into a fresh ledger of the other engine, or of the same one.
What was acknowledged before a backup began is in it; its records are those of the ledger as known at its revision; and
its figures, recomputed exactly, are those that the application on the ledger itself answers as known there.
"""

import threading
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

from service.domain.kitchen import Kitchen
from service.persistence.backup import backup
from service.persistence.engines import Engines, open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.persistence.restoring import BackupDamaged, restore
from service.persistence.whole import what_is_wrong
from service.use_cases.ports import Asker
from service.use_cases.verify_figures import exact_rows
from tests.reliability import sabotage
from tests.reliability.asked_in_process import InProcess, asked_in_process
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
    with sabotage.broken(run.sabotage), asked_in_process(run.database_url) as app, _Writers(engines) as writers:
        begun = writers.acknowledged
        while done < run.cases and run.in_time and not faults:
            path, before = run.folder / f"backup-{done}.jsonl{'.gz' * (done % 2)}", writers.acknowledged
            written = backup(engines, path)
            grown = max(grown, writers.acknowledged - before)
            if written.revision < before:
                faults.append(f"revision {before} was acknowledged before the backup of revision {written.revision}")
            faults += [f"backup {done}: {fault}" for fault in _looked_at(run, ledger, app, path, done)]
            path.unlink()
            done += 1
    engines.dispose()
    if writers.acknowledged == begun:
        faults.append("nothing was written meanwhile: it was no load")
    return Verdict(done, (*faults, *writers.faults), {"last revision": writers.acknowledged,
                                                      "most written during one backup": grown})


def _looked_at(run: Run, ledger: SqlLedger, app: InProcess, path: Path, case: int) -> list[str]:
    other = _another(run, case)
    try:
        revision = restore(other, path)
        faults = what_is_wrong(other)
        restored = SqlLedger(other)
        kitchen = restored.kitchen(revision)
        if kitchen != ledger.kitchen(revision):
            faults.append(f"its records are not those of the ledger at revision {revision}")
        answer = app.read(f"/v1/dish-costs?limit=1000&as_of={DAY}&known_at={revision}")
        faults += _other_figures(kitchen, answer["data"])
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


def _other_figures(kitchen: Kitchen, answered: list[Any]) -> Iterator[str]:
    """The dishes whose figures, recomputed exactly, are not those that the ledger answers."""
    exact, rows = exact_rows(kitchen, DAY), {row["dish"]: row for row in answered}
    if not rows or exact.keys() != rows.keys():
        yield f"it has figures of {sorted(exact)}, and the ledger answers those of {sorted(rows)}"
        return
    for code, row in rows.items():
        names = row.keys() & exact[code].keys()
        if wrong := [(name, exact[code][name], row[name]) for name in sorted(names) if exact[code][name] != row[name]]:
            yield f"of its figures of {code} the ledger answers others (name, recomputed, answered): {wrong}"


PROGRAMME = Programme(
    "backups", "T33", "a backup taken under load restores, on either engine, to a ledger that is whole", "backups", 4,
    100, run, sabotages=("backup_without_one_view",))
