"""Reviews of price proposals: computed once a worker for one look, and then only read.

A review is a function of what the file says, of the kitchen as known at a revision, and of today. So nothing here goes
stale: another look, another revision or another day is another review. One that was accepted or rejected is shown as it
was on that day.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from service.domain.business_day import business_day
from service.domain.errors import NotFound
from service.domain.kitchen import Kitchen
from service.domain.price_list import PriceRow
from service.domain.price_proposal import PriceProposal
from service.domain.price_review import Review, review
from service.domain.review_ground import Ground
from service.domain.reviewed_row import ReviewedRow
from service.use_cases.ports import Ledger

MOST_ROWS_KEPT = 250_000
MOST_KEPT = 24
"""Of a review, its rows, effect and orders: each review holds the kitchen that it stands on, and so few are kept."""
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Look:
    """One look at a proposal: against which revision, on which day."""

    number: int
    revision: int
    today: date


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A review, and the ground that it stands on."""

    review: Review
    ground: Ground


class Reviews:
    """The reviews of one worker. Thread-safe; the same review may be made twice, and is the same."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._kept: OrderedDict[Hashable, tuple[int, Any]] = OrderedDict()
        self._lock = threading.Lock()

    def look(self, proposal: PriceProposal) -> Look:
        """The look that the proposal was last given, as of today; of one that ended, as of that day."""
        today = self._ledger.today()
        if proposal.end is not None:
            settings = self._ledger.kitchen(self._ledger.head().revision).settings_on(today)
            today = business_day(proposal.end.at, settings.time_zone, settings.business_day_start)
        return Look(proposal.id, proposal.base_revision, today)

    def rows(self, proposal: PriceProposal) -> Sequence[PriceRow]:
        """What the file says, row by row."""
        return self.kept(("rows", proposal.id), proposal.rows, lambda: self._ledger.proposal_rows(proposal.id))

    def at(self, proposal: PriceProposal, look: Look) -> Reviewed:
        """The review of one look."""
        return self.kept(look, proposal.rows, lambda: reviewed(
            proposal, self.rows(proposal), self._ledger.kitchen(look.revision), look.today))

    def kept(self, name: Hashable, weight: int, make: Callable[[], T]) -> T:
        """What `make` gives; the latest used are kept, up to so many, and so many rows in all."""
        with self._lock:
            if name in self._kept:
                self._kept.move_to_end(name)
                found: T = self._kept[name][1]
                return found
        made = make()
        with self._lock:
            self._kept[name] = (weight, made)
            while len(self._kept) > 1 and (len(self._kept) > MOST_KEPT or sum(
                    rows for rows, _ in self._kept.values()) > MOST_ROWS_KEPT):
                self._kept.popitem(last=False)
        return made


def reviewed(proposal: PriceProposal, rows: Sequence[PriceRow], kitchen: Kitchen, today: date) -> Reviewed:
    """The review of a proposal against a kitchen."""
    ground = Ground(kitchen, proposal.supplier, proposal.effective_from or proposal.said.starts or today, today)
    return Reviewed(review(proposal.said, rows, proposal.effective_from, proposal.spread_charges, ground), ground)


def moved(before: ReviewedRow, after: ReviewedRow) -> bool:
    """Whether a row would be judged otherwise, or against something else, than it was."""
    return (before.price != after.price or before.in_force != after.in_force or before.item != after.item
            or before.standing != after.standing or _measured(before) != _measured(after)
            or [finding.code for finding in before.findings] != [finding.code for finding in after.findings])


def _measured(one: ReviewedRow) -> tuple[Any, ...]:
    """What of its ingredient makes a row's price per base unit, and what it moves."""
    ingredient = one.ingredient
    return () if ingredient is None else (
        ingredient.base_unit, ingredient.conversions, ingredient.preferred_supplier)


def proposal_numbered(ledger: Ledger, text: str) -> PriceProposal:
    """The proposal behind an id of the address.

    Raises:  NotFound.
    """
    found = ledger.proposal(int(text)) if text.isascii() and text.isdigit() and len(text) <= 9 else None
    if found is None:
        raise NotFound(f"There is no price proposal {text!r}.")
    return found
