"""Judges what clients saw, afterwards and without asking the service: was every record changed one step at a time?

A history is what each client asked and was told, with the moments between which it happened. Every value written is
unique, so that a value read names the write that it came from. What is held to be impossible:

    lost update           two acknowledged writes on one base, or one on a base that was no longer the last, unless a
                          write without an answer was on that last one
    two at one revision   an acknowledged revision that another write was told too
    stale read            a read that began after a write was acknowledged, and shows a state before it
    going backwards       a read that began after another read had ended, and shows an earlier state
    phantom value         a value at a revision that no write was told, and that none without an answer can explain
    refused but applied   a value whose write was refused
    against real time     a write that began after another was acknowledged, and has an earlier revision

Every record is judged on its own; the pages are near-linear in the number of operations.

Source:  the anomalies of Adya, Liskov and O'Neil ("Generalized isolation level definitions", 2000) as far as single
registers have them, and linearizability (Herlihy and Wing, 1990). From memory.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

Outcome = Literal["read", "written", "refused", "unknown"]


@dataclass(frozen=True, slots=True)
class Operation:
    """What a client asked and was told. `revision` is that of the value, None when not told; `base` is the revision
    that a write named."""

    client: str
    record: str
    begun: float
    ended: float
    outcome: Outcome
    value: str
    revision: int | None = None
    base: int | None = None


def judged(history: Iterable[Operation]) -> list[str]:
    """Every fault of a history; an empty list says that it could have happened one operation after the other."""
    by_record: dict[str, list[Operation]] = defaultdict(list)
    for operation in history:
        by_record[operation.record].append(operation)
    return [f"{record}: {fault}" for record, operations in sorted(by_record.items())
            for fault in (*_of_writes(operations), *_of_values(operations), *_of_order(operations))]


def _of_writes(operations: Sequence[Operation]) -> Iterator[str]:
    """Each base used once, each revision told once, each write on what was the last before it."""
    written = sorted((each for each in operations if each.outcome == "written"), key=lambda each: each.revision or 0)
    unknown = {each.base for each in operations if each.outcome == "unknown"}
    for before, after in pairwise(written):
        if before.revision == after.revision:
            yield f"two at one revision: {before.value} and {after.value} at {after.revision}"
        if after.base == before.base:
            yield f"lost update: {before.value} and {after.value} both on {after.base}"
        elif after.base != before.revision and before.revision not in unknown:
            yield f"lost update: {after.value} is on {after.base}, when {before.revision} was there"


def _of_values(operations: Sequence[Operation]) -> Iterator[str]:
    """What was read was written, at that revision, by one whose write was not refused."""
    told = {each.value: each for each in operations if each.outcome == "written"}
    refused = {each.value for each in operations if each.outcome == "refused"}
    unknown = {each.value for each in operations if each.outcome == "unknown"}
    for read in (each for each in operations if each.outcome == "read" and each.value):
        if read.value in refused and read.value not in told:
            yield f"refused but applied: {read.value} at {read.revision}"
        elif read.value in told and told[read.value].revision != read.revision:
            yield f"phantom value: {read.value} at {read.revision}, written at {told[read.value].revision}"
        elif read.value not in told and read.value not in unknown:
            yield f"phantom value: {read.value} at {read.revision} was never written"


def _of_order(operations: Sequence[Operation]) -> Iterator[str]:
    """Nobody is shown a state before one that somebody had been shown when they began to ask.

    By the time of their ends, a running maximum says what was known at each beginning.
    """
    seen = sorted((each for each in operations if each.revision is not None and each.outcome in ("read", "written")),
                  key=lambda each: each.ended)
    known: Operation | None = None
    at = 0
    for each in sorted(seen, key=lambda each: each.begun):
        while at < len(seen) and seen[at].ended < each.begun:
            if known is None or (seen[at].revision or 0) > (known.revision or 0):
                known = seen[at]
            at += 1
        if known is not None and (each.revision or 0) < (known.revision or 0):
            yield _backwards(each, known)


def _backwards(later: Operation, known: Operation) -> str:
    kind = ("against real time" if later.outcome == "written" else
            "stale read" if known.outcome == "written" else "going backwards")
    return f"{kind}: {later.client} at {later.revision} after {known.client} was told {known.revision}"
