"""A cage for readers of foreign files: whatever a file does to the code that reads it, it does it to a child process.

The child is started fresh for one file (no fork of a worker that holds keys and connections; an empty environment),
takes its own rights away before it has seen a byte (`caged/child.py`), and is killed when it is no longer needed or
when its time is up. What it says is lines of JSON, counted as they come: nothing that it says is ever executed.

At most two children at work at a time in each worker, and a few requests that wait for them, so that files can never
take all the threads that answer; who finds no place within some seconds is asked to come again.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from threading import BoundedSemaphore

from service.domain.errors import FileTooLarge, ReadersBusy
from service.integrations.price_lists.cage_children import MIB, Child, Waiting
from service.integrations.price_lists.cage_faults import CageLimits, why_it_died, why_it_refused

END = b'{"end": true}\n'
LIMITS = CageLimits()
PLACES = BoundedSemaphore(2)
QUEUE = BoundedSemaphore(4)
WAITING = Waiting(LIMITS)


@contextmanager
def caged(reader: str, content: bytes, asked: Mapping[str, object],
          limits: CageLimits = LIMITS) -> Iterator[Iterator[bytes]]:
    """The lines that a reader in a cage says of a file; leaving the block ends the reader.

    Shape:   `reader` is a module of `caged`, `asked` what it is told beside the file.
    Raises:  ReadersBusy when both places are taken; from the lines: UnreadableFile, FileTooLarge.
    """
    _take_a_place(limits.patience_seconds)
    try:
        child = _child(reader, limits)
        try:
            child.give(asked, content, limits.wall_seconds)
            yield _lines(child, limits)
        finally:
            child.end()
            WAITING.renew(reader)
    finally:
        PLACES.release()


def _take_a_place(patience_seconds: float) -> None:
    """Takes one of the places at once, or in the queue, which is short."""
    if PLACES.acquire(blocking=False):
        return
    found = False
    if QUEUE.acquire(blocking=False):
        try:
            found = PLACES.acquire(timeout=patience_seconds)
        finally:
            QUEUE.release()
    if not found:
        raise ReadersBusy("Two files are being read already. Send yours again in some seconds.")


def _child(reader: str, limits: CageLimits) -> Child:
    try:
        return WAITING.take(reader) if limits == LIMITS else Child(reader, limits)
    except OSError as fault:
        raise ReadersBusy("No reader can be started just now. Send the file again in some seconds.") from fault


def _lines(child: Child, limits: CageLimits) -> Iterator[bytes]:
    left = limits.answer_mib * MIB
    while (line := child.line(left + 1)).endswith(b"\n"):
        left -= len(line)
        if line == END:
            return
        if line.startswith(b'{"fault"'):
            raise why_it_refused(line, limits)
        yield line
    if len(line) > left:
        raise FileTooLarge(f"The file holds more than {limits.answer_mib} MiB of text. Split the list, or take out the "
                           "columns that are no part of it.", limit=limits.answer_mib, counted="MiB of text")
    status, last_words = child.last_words()
    raise why_it_died(status, child.was_stopped, last_words, limits)
