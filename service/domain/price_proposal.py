"""A price proposal: a supplier's file as a draft. Nothing is in force until somebody accepts it.

It takes no revision. What is kept is what the file says, and against which revision of the ledger it was looked at; the
review is a function of the two, and so can be given again to the digit.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from service.domain.price_list import PriceList


class ProposalState(StrEnum):
    """Where a proposal stands. Accepted and rejected are for good."""

    OPEN = "open"
    ACCEPTED = "accepted"
    REJECTED = "rejected"


@dataclass(frozen=True, slots=True)
class ProposalEnd:
    """How a proposal ended: by whom, when, and which rows were taken.

    Shape:   `prices` is the id of the price recorded, by row number; `overrides` the reason given, by row number;
             `revision` is None when it was rejected, `reason` empty when it was accepted.
    """

    at: datetime
    key_id: str
    who: str
    revision: int | None = None
    reason: str = ""
    prices: Mapping[int, str] = field(default_factory=dict)
    overrides: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PriceProposal:
    """A proposal without its rows.

    Shape:   `id` counts from 1; `said` is the list that the file holds, its rows left out (`rows` says how many);
             `base_revision` is the head at the last look, `looks` counts the looks from 1; `file_hash` is SHA-256, in
             hexadecimal.
    """

    id: int
    supplier: str
    effective_from: date | None
    spread_charges: bool
    file_name: str
    file_hash: str
    said: PriceList
    rows: int
    made_at: datetime
    key_id: str
    who: str
    base_revision: int
    looks: int = 1
    state: ProposalState = ProposalState.OPEN
    end: ProposalEnd | None = None
