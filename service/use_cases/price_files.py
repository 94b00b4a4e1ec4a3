"""What proposing prices needs of whatever reads a supplier's file: a port of its own, apart from the ledger's."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from service.domain.price_list import Layout, PriceList


@dataclass(frozen=True, slots=True)
class HowToRead:
    """What the asker says about a table, and what is remembered of the supplier's last one.

    Shape:   `columns` maps what a column means to its header; `sheet` names a sheet; both may be empty.
    """

    columns: Mapping[str, str]
    sheet: str = ""
    remembered: Layout | None = None


class ReadPriceFile(Protocol):
    """Reads a supplier's file, told by its content. Bounded in time and memory, whatever the file holds."""

    def __call__(self, content: bytes, how: HowToRead) -> PriceList:
        """What the file says.

        Raises:  UnreadableFile, FileTooLarge, ColumnsNotRecognised.
        """
