"""The columns of a table while they are read, and the faults that are found in its rows."""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

from service.domain.errors import FileTooLarge
from service.domain.price_list import RowFault
from service.integrations.price_lists.cells import Cell, shown, texts

MOST_DIFFERENT = 20_000
SAID_BY_PARAMETER = frozenset(("item", "name", "price", "unit", "pack", "gtin", "currency", "starts", "ends"))
"""Meanings for which the asker can name the column: `unit_column` and so on."""
Key = TypeVar("Key", bound=Hashable)


@dataclass(frozen=True, slots=True)
class TableColumns:
    """Columns by their meaning.

    Shape:   each of `cells` has `rows` cells; `titles` are the headers as the file has them; `currency` and `mark` are
             what is known from elsewhere, empty when nothing is; `faults` are gathered by the row's place, from 0.
    """

    rows: int
    cells: Mapping[str, Sequence[Cell]]
    titles: Mapping[str, str]
    currency: str = ""
    mark: str = ""
    faults: defaultdict[int, list[RowFault]] = field(default_factory=lambda: defaultdict(list))

    def texts(self, meaning: str) -> list[str]:
        """A column as text; empty texts when the table has none such."""
        column = self.cells.get(meaning)
        return [""] * self.rows if column is None else texts(column)

    def different(self, meaning: str, keys: Iterable[Key]) -> Mapping[Key, None]:
        """The distinct ones among the keys of a column that has few of them in any list, each of which is read in full.

        Raises:  FileTooLarge when they are so many that reading them would take too long.
        """
        distinct = dict.fromkeys(keys)
        if len(distinct) > MOST_DIFFERENT:
            mend = f"Say with {meaning}_column which it is" if meaning in SAID_BY_PARAMETER else "Rename it"
            raise FileTooLarge(
                f"The column {shown(self.titles.get(meaning, ''))} holds over {MOST_DIFFERENT:,} different texts, as "
                f"no column of that kind has. {mend}, or take it out.",
                limit=MOST_DIFFERENT, counted=f"different texts for {meaning}")
        return distinct

    def tell(self, meaning: str, keys: Sequence[Hashable], unread: Mapping[Any, str]) -> None:
        """Note a fault for every row whose key is among the unread, with the sentence that stands for it there."""
        if unread:
            for place, key in enumerate(keys):
                if key in unread:
                    self.faults[place].append(RowFault(self.titles.get(meaning, ""), unread[key]))

    def tell_one(self, place: int, meaning: str, sentence: str) -> None:
        """Note a fault of one row."""
        self.faults[place].append(RowFault(self.titles.get(meaning, ""), sentence))
