"""The breaking programme by hand: `python -m tests.reliability NAME`, or `all`; see programme.py.

Prints a line a part and engine: verdict, cases, seconds, seed, figures, and then every fault. Ends with 1 when any part
found one. PostgreSQL comes from the wheel of the tests, one server for all parts.
"""

import argparse
import sys
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path

from service.persistence.migrating import migrate
from tests.postgres import PostgresServer, running_server
from tests.reliability.every_programme import PROGRAMMES
from tests.reliability.programme import ENGINES, Programme, Run, Verdict


def main(arguments: list[str]) -> int:
    """Run what is asked for; 1 when anything is wrong."""
    asked = _asked(arguments)
    chosen = [each for each in PROGRAMMES if asked.name in (each.name, each.row, "all")]
    with ExitStack() as stack:
        server = stack.enter_context(running_server()) if "postgresql" in asked.engine else None
        verdicts = [_told(each, engine, asked, server) for each in chosen for engine in asked.engine
                    if engine in each.engines]
    if not verdicts:
        print("Nothing was run: no such part, or none on that engine.")
    return 0 if verdicts and all(verdict.passed for verdict in verdicts) else 1


def _told(programme: Programme, engine: str, asked: argparse.Namespace, server: PostgresServer | None) -> Verdict:
    with tempfile.TemporaryDirectory(prefix="seamcost-breaking-") as folder:
        url = f"sqlite:///{folder}/ledger.db" if engine == "sqlite" or server is None else server.create()
        migrate(url)
        begun = time.monotonic()
        verdict = programme.run(Run(
            asked.cases or programme.long, url, Path(folder), asked.seed, begun + asked.minutes * 60, asked.sabotage,
            None if engine == "sqlite" else server))
        seconds = time.monotonic() - begun
    figures = ", ".join(f"{name} {value}" for name, value in verdict.figures.items())
    print(f"{'ok ' if verdict.passed else 'RED'} {programme.name} on {engine}: {verdict.cases} {programme.unit} in "
          f"{seconds:.0f} s, seed {asked.seed}. {figures}", *verdict.faults, sep="\n    ", flush=True)
    return verdict


def _asked(arguments: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.reliability", description=__doc__)
    parser.add_argument("name", choices=["all", *(name for each in PROGRAMMES for name in (each.name, each.row))])
    parser.add_argument("--engine", action="append", choices=ENGINES)
    parser.add_argument("--cases", type=int, default=0, help="how many, unless the part's own number")
    parser.add_argument("--minutes", type=float, default=60, help="no part begins a case after so long")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sabotage", default="", help="break the service on purpose; the part should find it")
    asked = parser.parse_args(arguments)
    asked.engine = asked.engine or list(ENGINES)
    return asked


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
