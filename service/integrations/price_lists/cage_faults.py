"""What is told of a file whose reader in the cage would not read on, or died: what can be known, in a sentence."""

import json
from collections.abc import Mapping
from dataclasses import dataclass

from service.domain.errors import Fault, FileTooLarge, UnreadableFile

_ABORTED = -6
_KILLED_BY_THE_SYSTEM = -9
"""Nobody else kills it: the system does when memory runs out."""

_STOPPED_FOR_TIME = -24


@dataclass(frozen=True, slots=True)
class CageLimits:
    """What one child may use. An honest list of 100 000 rows in 20 MB takes about 150 MiB and 2 seconds.

    Units:   `answer_mib` bounds what the child may say in all; `patience_seconds` is how long a place is waited for.
    """

    memory_mib: int = 224
    cpu_seconds: int = 10
    wall_seconds: float = 60.0
    answer_mib: int = 64
    patience_seconds: float = 5.0


_TOO_LARGE: Mapping[str, str] = {
    "rows": "The sheet {text}; up to {limit:,} are read. Split the list, or delete the empty rows below it.",
    "columns": "The sheet {text}; up to {limit} are read. Delete the empty columns beside the list.",
    "elements": "{text} {limit:,} elements, which no price list does. Split it, or take out what is not a price.",
}
"""Sentences by what there is too much of."""

_UNREADABLE: Mapping[str, str] = {
    "no-such-sheet": "The workbook has no sheet of that name; it has {text}.",
    "doctype": "The document has a DOCTYPE, which no UBL document needs and none is read with. Take it out.",
    "too-deep": "The document nests elements more than {text} levels deep; UBL never does.",
    "too-wide": "An element of the document has more than {text} attributes or namespaces; UBL never does.",
    "too-long": "A text in the document is longer than {text} characters; a price list needs none.",
    "damaged": "The file is damaged and cannot be read: {text}. Save it again where it was made.",
}
"""Sentences by why a file cannot be read."""


def why_it_refused(line: bytes, limits: CageLimits) -> Fault:
    """The fault that a reader told in its last line: {"fault": word, "text": what there is to say}."""
    said = json.loads(line)
    word, text = str(said["fault"]), "".join(each for each in str(said.get("text", "")) if each.isprintable())
    text = text.rstrip(". ") or "no reason was given"
    if word == "memory":
        return _needs_memory(limits)
    if word in _TOO_LARGE:
        limit = int(said["limit"])
        return FileTooLarge(_TOO_LARGE[word].format(text=text, limit=limit), limit=limit, counted=word)
    return UnreadableFile(_UNREADABLE.get(word, _UNREADABLE["damaged"]).format(text=text), why=word)


def why_it_died(status: int, was_stopped: bool, last_words: bytes, limits: CageLimits) -> Fault:
    """Why a reader ended that never said it was done. `status` is its exit status, below zero for a signal's number."""
    if was_stopped or status == _STOPPED_FOR_TIME:
        return FileTooLarge(f"The file takes longer to read than the {limits.cpu_seconds} s that it is given, and "
                            "a list of 100,000 rows does not. Split it.", limit=limits.cpu_seconds, counted="seconds")
    for_want_of_memory = (status == _ABORTED and b"memory" in last_words) or b"MemoryError" in last_words
    if for_want_of_memory or status == _KILLED_BY_THE_SYSTEM:
        return _needs_memory(limits)
    return UnreadableFile("The file broke the code that reads it, which was kept apart from the service. Save it again "
                          "in a spreadsheet program, or as CSV.", why="broke-its-reader")


def _needs_memory(limits: CageLimits) -> Fault:
    return FileTooLarge(f"The file needs more than {limits.memory_mib} MiB of memory to be unpacked: its cells are "
                        "spread too widely, or its texts repeat. Split it, or save it as CSV.", limit=limits.memory_mib,
                        counted="MiB of memory")
