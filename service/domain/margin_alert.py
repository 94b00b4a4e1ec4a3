"""A margin alert: that a dish crossed its target, when, and what crossed it.

Rules that always hold: an alert follows from the ledger alone, its id and number too, so that whoever raises it raises
the same; of a dish at most one is open; what closes an alert is an alert itself.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from service.domain.target_crossing import Crossing
from service.domain.timeline import MovedBy, Place


class AlertNamed(NamedTuple):
    """An alert as another one names it."""

    number: int
    id: str
    crossed: Crossing
    place: Place


@dataclass(frozen=True, slots=True)
class MarginAlert:
    """A crossing. `told` is what is shown of the dish and of the causes, as it was then.

    Shape:   `number` is its place among all alerts, from 1, without gaps; one that is not "outside" `closes` another;
             `closed_by` is None while the dish is still outside.
    """

    number: int
    id: str
    dish: str
    section: str
    crossed: Crossing
    place: Place
    moved_by: MovedBy
    told: Mapping[str, Any]
    closes: AlertNamed | None = None
    closed_by: AlertNamed | None = None

    @property
    def open(self) -> bool:
        """Whether the dish is outside its target since, as far as is known."""
        return self.crossed is Crossing.OUTSIDE and self.closed_by is None

    @property
    def named(self) -> AlertNamed:
        return AlertNamed(self.number, self.id, self.crossed, self.place)
