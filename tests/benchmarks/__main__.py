"""All benchmarks as one table of ratios with their spreads.

    python -m tests.benchmarks [NAME ...] [--quick | --full | --size smallest] [--rounds N] [--write]

The quick form of all takes some ten minutes on two quiet cores, the full one some twenty-five. Of several rounds each
row shows the median and the least and the greatest; an aim is met or missed only where every round says so. `--write`
puts the table into DEVELOPERS.md too. Ends with 1 where a benchmark could not be run.
"""

import argparse
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

from tests.benchmarks.every_benchmark import BENCHMARKS, TOP, NotRun, results_of, run
from tests.benchmarks.machine import QUIET, busy, machine
from tests.benchmarks.results import SIZES, Asked, Result, as_line, table

BEGIN, END = (f"<!-- the table of python -m tests.benchmarks: {word} -->" for word in ("begin", "end"))


def main() -> int:
    """Run what is asked for; 1 where something could not be run."""
    asked = _asked()
    if asked.into:
        with asked.into.open("a") as told:
            for result in results_of(asked.names[0])(Asked(asked.size, asked.rounds)):
                print(as_line(result), file=told, flush=True)
        return 0
    rows: list[tuple[str, Result]] = []
    failed, noise, began = [], [busy()], time.monotonic()
    for name in asked.names or BENCHMARKS:
        print(f"-- {time.monotonic() - began:.0f} s: {name}", file=sys.stderr, flush=True)
        try:
            rows += [(name, result) for result in run(name, Asked(asked.size, asked.rounds))]
        except NotRun as reason:
            failed.append(str(reason))
        noise.append(busy())
    lines = [f"{machine()} The {asked.size} form, {asked.rounds} rounds, in {time.monotonic() - began:.0f} s, "
             f"{datetime.now(UTC):%Y-%m-%d}. {_noise(max(noise))}", "", *table(rows),
             *(f"\nNot run: {reason}." for reason in failed)]
    print("\n".join(lines))
    if asked.write:
        _write(TOP / "DEVELOPERS.md", lines)
    return 1 if failed else 0


def _noise(busiest: float) -> str:
    """How far the clock is to be trusted: what others used of the cores between two benchmarks."""
    others = f"between two benchmarks at most {busiest:.0%} of the cores were at work for others"
    return f"A quiet machine: {others}." if busiest <= QUIET else (
        f"**A noisy machine**: {others}, so trust no row by the clock.")


def _write(page: Path, lines: list[str]) -> None:
    """Put the table between its two marks."""
    text = page.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    after = rest.partition(END)[2]
    if not rest or not after:
        raise SystemExit(f"{page} has no place for the table, between {BEGIN} and {END}")
    page.write_text(f"{before}{BEGIN}\n" + "\n".join(lines) + f"\n{END}{after}", encoding="utf-8")


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(BENCHMARKS))
    parser.add_argument("--size", choices=SIZES, default="quick")
    parser.add_argument("--quick", dest="size", action="store_const", const="quick")
    parser.add_argument("--full", dest="size", action="store_const", const="full")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--write", action="store_true", help="put the table into DEVELOPERS.md too")
    parser.add_argument("--into", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    unknown = [name for name in asked.names if name not in BENCHMARKS]
    if unknown:
        parser.error(f"there is no benchmark {', '.join(unknown)}; there are {', '.join(BENCHMARKS)}")
    return asked


if __name__ == "__main__":
    sys.exit(main())
