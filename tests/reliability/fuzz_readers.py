"""Fuzzing of everything that reads what others wrote: each file or text gives what it says, or a documented fault.

A reader is handed files that begin valid (made here, from a few trade words) and are then changed in some places. What
must hold of each: nothing but a documented fault comes out; it takes at most some seconds of processor time; and where
it can be counted by other means, what was read is all of it. Two ways to run:

    python -m tests.reliability readers                     changes by chance, from a seed; every reader
    python -m tests.reliability.fuzz_readers NAME [...]     guided by coverage, with atheris, until stopped; the rest
                                                            goes to libFuzzer (-runs=, -max_total_time=, a folder)

Atheris is no requirement of the tests: it is installed by hand (its wheels are for some versions of Python only).

Source: common practice of coverage-guided fuzzing (a generator that builds valid frames first reaches what blind bytes
never do).
"""

import random
import sys
import time
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.reliability import sabotage
from tests.reliability.fuzz_values import bytes_changed
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.readers import READERS, Reader

MOST_SECONDS = 5.0
"""Of processor time for one file of some kilobytes."""

MOST_MIB = 450
"""That the process may grow by at most while it reads, all readers and their libraries together: what it held before is
of those who ran in it earlier."""

_CHANGED_TIMES = (0, 1, 1, 2, 3)
MOST_FAULTS = 20


def readers(run: Run) -> Verdict:
    """Give each reader so many files, and say what was wrong with what came of any."""
    with sabotage.broken(run.sabotage):
        return _all_given(run)


def _all_given(run: Run) -> Verdict:
    faults: list[str] = []
    outcomes: dict[str, Counter[str]] = {}
    done = 0
    before = _held_from_now_on()
    for place, (name, make) in enumerate(READERS.items()):
        until = time.monotonic() + (run.until - time.monotonic()) / (len(READERS) - place)
        if len(faults) >= MOST_FAULTS:
            break
        outcomes[name] = Counter()
        chance = random.Random(f"{run.seed} {name}")
        with make(run.folder) as reader:
            for _ in range(max(1, run.cases * reader.share // 100)):
                if time.monotonic() > until or len(faults) >= MOST_FAULTS:
                    break
                done += 1
                frame = reader.frame(chance)
                content, times = frame, chance.choice(_CHANGED_TIMES)
                for _ in range(times):
                    content = bytes_changed(content, chance)
                faults += one(name, reader, content, outcomes[name], whole=reader.always_valid and content == frame)
    grown = _most_held() - before
    if grown > MOST_MIB:
        faults.append(f"the process grew by {grown} MiB")
    told = {name: f"{sum(count.values())} ({count['read']} read)" for name, count in outcomes.items()}
    return Verdict(done, tuple(faults), {**told, "MiB": grown})


def _held_from_now_on() -> int:
    """MiB that the process holds; what it held most is counted from here on (proc_pid_clear_refs(5))."""
    Path("/proc/self/clear_refs").write_text("5")
    return _most_held()


def _most_held() -> int:
    status = Path("/proc/self/status").read_text()
    return int(status.partition("VmHWM:")[2].split()[0]) // 1024


def one(name: str, reader: Reader, content: bytes, outcomes: Counter[str], whole: bool) -> list[str]:
    """What is wrong with what comes of one file. `whole`: it was not changed, and has to be read."""
    begun = time.process_time()
    try:
        wrong = reader.read(content)
        outcomes["read"] += 1
    except reader.faults as fault:
        outcomes[type(fault).__name__] += 1
        wrong = f"refused, and valid: {fault}" if whole else None
    except Exception as fault:
        wrong = f"{type(fault).__name__}: {fault}"
    spent = time.process_time() - begun
    if spent > MOST_SECONDS:
        wrong = f"took {spent:.1f} s; {wrong}"
    return [] if wrong is None else [f"{name}: {wrong[:300]}: {content[:1_500]!r}"]


PROGRAMME = Programme(
    name="readers", row="T16", promise="Whatever a file or a text holds: what it says, or a documented fault",
    unit="files", short=120, long=500_000, run=readers, engines=("sqlite",),
    sabotages=("last_row_lost", "lenient_quotes", "unsigned_cursors", "any_decimal"))


def main(arguments: list[str]) -> None:
    """Fuzz one reader guided by coverage."""
    import atheris

    name, *options = arguments
    with TemporaryDirectory() as folder, READERS[name](Path(folder)) as reader:
        def give(content: bytes) -> None:
            if wrong := one(name, reader, content, Counter(), whole=False):
                raise AssertionError(wrong[0])

        def change(content: bytes, longest: int, seed: int) -> bytes:
            chance = random.Random(seed)
            if not content or chance.random() < 0.02:
                content = reader.frame(chance)
            if chance.random() < 0.5:
                return atheris.Mutate(content, longest)
            return bytes_changed(content, chance)[:longest]

        atheris.instrument_all()
        atheris.Setup([sys.argv[0], *options], give, custom_mutator=change)
        atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv[1:])
