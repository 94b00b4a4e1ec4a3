"""The kinds of record that are kept: where a kitchen holds them, and what must be right before one is.

Keeping, reading, listing and retiring are the same for every kind; a kind says only what differs.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from service.domain.errors import Fault
from service.domain.history import Histories, History
from service.domain.kitchen import Kitchen
from service.domain.network import Key

SETTINGS = "settings"
LONGEST_SHOWN = 140
"""No record has a longer code; an address may hold anything."""


@dataclass(frozen=True, slots=True)
class Change:
    """What is about to be recorded: the record, and the day from which it holds (checks look from there on)."""

    code: str
    record: Any
    day: date


Check = Callable[[Change, Kitchen], Sequence[Fault]]
Consequence = Callable[[Change, Kitchen], Sequence[tuple[str, Any]]]
Holds = Callable[[Change, Kitchen], bool]
Owner = Callable[[Change, Kitchen], Fault | None]


def _no_consequence(_change: Change, _kitchen: Kitchen) -> Sequence[tuple[str, Any]]:
    return ()


def _nobody_s(_change: Change, _kitchen: Kitchen) -> Fault | None:
    return None


def _from_the_beginning(_change: Change, _kitchen: Kitchen) -> bool:
    return True


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of kept record.

    `check` gives every fault of a change at once; `consequences` the records that change with it in the same revision
    (code and new record); `from_the_beginning` whether a first version may hold on all earlier days too;
    `has_defaults` that there is something to read, at revision 0, before the first is recorded; `owner` says why there
    can be none at all (the supplier of an item is not there), before anything else is asked; `moves_figures` whether
    costs can depend on it: what moves none is read as known at the head, not at the revision that moved a figure last.
    """

    name: str
    plural: str
    histories: Callable[[Kitchen], Histories[Any]]
    check: Check
    consequences: Consequence = _no_consequence
    from_the_beginning: Holds = _from_the_beginning
    has_defaults: bool = False
    owner: Owner = _nobody_s
    moves_figures: bool = True

    def history(self, kitchen: Kitchen, code: str) -> History[Any]:
        """Every version of one record; empty when nothing is recorded under the code."""
        return self.histories(kitchen).get(code, ())

    def called(self, code: str) -> str:
        """One record in a sentence: supplier item 'fenmoor/10-2'."""
        return f"{self.name.replace('_', ' ')} {code[:LONGEST_SHOWN]!r}"

    def key(self, code: str) -> Key:
        return (self.name, code)
