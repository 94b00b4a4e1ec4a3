"""What recording sales needs of whatever reads a file of them: a port of its own, apart from the ledger's."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Protocol

from service.domain.sales import SalesLine

MOST_LINES_OF_A_DAY = 5_000
MOST_LINES = 20_000
MOST_DAYS = 366


@dataclass(frozen=True, slots=True)
class SentDay:
    """What was sent for one business date, and where in the request the date stands (as a fault tells it)."""

    business_date: date
    lines: Sequence[SalesLine]
    where: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class HowSalesAreWritten:
    """The date that all lines are of (None: each says its own), and the decimal mark ("": told by the delimiter)."""

    business_date: date | None = None
    decimal_mark: str = ""


class ReadSalesFile(Protocol):
    """Reads a table of sales. Bounded in rows and cells, whatever it holds."""

    def __call__(self, content: bytes, how: HowSalesAreWritten) -> Sequence[SentDay]:
        """The dates of the file, in the order in which they come up.

        Raises:  UnreadableFile, FileTooLarge; Refused with what is wrong, each with its line and column.
        """
