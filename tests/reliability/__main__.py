"""The breaking programme by hand: `python -m tests.reliability NAME`, or `all`; see programme.py.

Prints a line a part and engine as it ends, with every fault, and a table at the end. `--minutes` are for all parts
together: a part has its share of what is left, so what one leaves over the next ones have. A part that ends by an
exception, or one of whose threads does, has a fault, and the next ones run. Ends with 1 when any part found a fault.
PostgreSQL comes from the wheel of the tests, one server for all parts. `--sabotage` is for parts that know the switch;
others would only seem to be well.

What a whole service was found to do wrong is kept in tests/reliability/found/, a file a find: `test_found.py` runs each
of them again from then on.
"""

import argparse
import json
import sys
import tempfile
import threading
import time
import traceback
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from service.persistence.migrating import migrate
from tests.postgres import PostgresServer, running_server
from tests.reliability.every_programme import PROGRAMMES
from tests.reliability.programme import ENGINES, Programme, Run, Verdict

FOUND = Path(__file__).parent / "found"


class Told(NamedTuple):
    """What came of a part on an engine."""

    programme: Programme
    engine: str
    verdict: Verdict
    seconds: float


def main(arguments: list[str]) -> int:
    """Run what is asked for; 1 when anything is wrong."""
    asked = _asked(arguments)
    parts = [(each, engine) for each in PROGRAMMES if asked.name in (each.name, each.row, "all")
             for engine in asked.engine if engine in each.engines]
    until = time.monotonic() + asked.minutes * 60
    told: list[Told] = []
    with ExitStack() as stack:
        server = stack.enter_context(running_server()) if "postgresql" in asked.engine else None
        for place, (programme, engine) in enumerate(parts):
            share = (until - time.monotonic()) / (len(parts) - place)
            told.append(_told(programme, engine, asked, share, server))
    if not told:
        print("Nothing was run: no such part, or none on that engine.")
    elif len(told) > 1:
        print(_table(told))
    return 0 if told and all(each.verdict.passed for each in told) else 1


def _told(programme: Programme, engine: str, asked: argparse.Namespace, share: float, server: PostgresServer | None
          ) -> Told:
    with tempfile.TemporaryDirectory(prefix="seamcost-breaking-") as folder:
        url = f"sqlite:///{folder}/ledger.db" if engine == "sqlite" or server is None else server.create()
        migrate(url)
        begun = time.monotonic()
        verdict = _verdict(programme, Run(
            asked.cases or programme.long, url, Path(folder), asked.seed, begun + share, asked.sabotage,
            None if engine == "sqlite" else server))
        told = Told(programme, engine, verdict, time.monotonic() - begun)
    figures = ", ".join(f"{name} {value}" for name, value in verdict.figures.items())
    print(f"{'ok ' if verdict.passed else 'RED'} {programme.name} on {engine}: {verdict.cases} {programme.unit} in "
          f"{told.seconds:.0f} s, seed {asked.seed}. {figures}", *verdict.faults, sep="\n    ", flush=True)
    if verdict.faults and verdict.cases and not asked.sabotage:
        print(f"    kept as {_keep(told, asked)}", flush=True)
    return told


def _verdict(programme: Programme, run: Run) -> Verdict:
    """What came of it; an exception is one fault, and no reason to end the parts that follow. So is one that ends a
    thread: whom it would have had ask, write or kill did so no more, and what is left to judge may well be right."""
    died, told = list[str](), threading.excepthook

    def note(ended: threading.ExceptHookArgs) -> None:
        died.append(f"a thread ended by {ended.exc_type.__name__}: {ended.exc_value}"[:2_000])
        told(ended)

    threading.excepthook = note
    try:
        verdict = programme.run(run)
    except Exception as error:
        traceback.print_exc()
        verdict = Verdict(0, (f"it ended by {type(error).__name__}: {error}"[:2_000],))
    finally:
        threading.excepthook = told
    return replace(verdict, faults=(*verdict.faults, *died))


def _keep(told: Told, asked: argparse.Namespace) -> Path:
    """Keep what is needed to run it again."""
    FOUND.mkdir(exist_ok=True)
    kept = FOUND / f"{told.programme.name}-{told.engine}-{asked.seed}.json"
    kept.write_text(json.dumps({"name": told.programme.name, "engine": told.engine, "seed": asked.seed,
                                "cases": told.verdict.cases, "faults": told.verdict.faults}, indent=1) + "\n")
    return kept


def _table(told: list[Told]) -> str:
    rows = [("row", "part", "engine", "", "cases", "of", "unit", "seconds"), *(
        (each.programme.row, each.programme.name, each.engine, "ok" if each.verdict.passed else "RED",
         str(each.verdict.cases), str(each.programme.long), each.programme.unit, f"{each.seconds:.0f}")
        for each in told)]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return "\n".join("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows)


def _asked(arguments: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.reliability", description=__doc__)
    parser.add_argument("name", choices=["all", *dict.fromkeys(
        name for each in PROGRAMMES for name in (each.name, each.row))])
    parser.add_argument("--engine", action="append", choices=ENGINES)
    parser.add_argument("--cases", type=int, default=0, help="how many, unless the part's own number")
    parser.add_argument("--minutes", type=float, default=60, help="for all parts together; no case begins later")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sabotage", default="", help="break the service on purpose; the part should find it")
    asked = parser.parse_args(arguments)
    asked.engine = asked.engine or list(ENGINES)
    ignorant = [each.name for each in PROGRAMMES if asked.name in (each.name, each.row, "all")
                and asked.sabotage not in ("", *each.sabotages)]
    if ignorant:
        parser.error(f"{', '.join(ignorant)}: no part of that name knows the switch {asked.sabotage}")
    return asked


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
