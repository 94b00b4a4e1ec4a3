"""Gaps and findings: what is not known, and what a person should look at.

A gap leaves a figure without a number, and everything above it. A finding leaves the figure standing. Both are data,
never exceptions: one missing price must not stop the other dishes.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Gap:
    """Something unknown.

    `code` is stable (no_price, no_preferred_supplier, missing_conversion, missing_value, credits_exceed_cost,
    nothing_carries_the_cost, no_yield, no_labour_rate, not_in_force, not_made, loop); `kind` and `record` say where;
    `detail` is a sentence with the mend; `more` holds figures (offers, units), already rounded for publication.
    """

    code: str
    kind: str
    record: str
    detail: str
    more: Mapping[str, Any] = field(default_factory=dict, compare=False, hash=False)


@dataclass(frozen=True, slots=True)
class Finding:
    """Something to look at (costs_more_to_finish_than_worth, dearer_than_buying, zero_menu_price ...)."""

    code: str
    kind: str
    record: str
    detail: str
