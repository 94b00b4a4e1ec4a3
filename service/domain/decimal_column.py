"""A column of published decimals as whole numbers of their last place, and their text without a decimal object.

Rules that always hold: text is plain fixed point with all its places, never minus zero; an unknown figure is None.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from operator import add

import numpy as np
from numpy.typing import NDArray

from service.domain.denominators import Whole
from service.domain.settle import Mask


def decimal_text(scaled: int, places: int) -> str:
    """The text of scaled / 10**places.

    Example: decimal_text(41898, 4) is 4.1898; decimal_text(-5, 2) is -0.05.
    """
    digits = str(abs(scaled)).zfill(places + 1)
    sign = "-" if scaled < 0 else ""
    return f"{sign}{digits[:-places]}.{digits[-places:]}" if places else sign + digits


@dataclass(frozen=True)
class DecimalColumn:
    """One published figure of many rows.

    Shape:   `scaled` is figure x 10**places, 0 where `known` is False; `large` holds by row what passes 64 bits.
    """

    scaled: Whole
    known: Mask
    places: int
    large: Mapping[int, int] = field(default_factory=dict)

    def at(self, row: int) -> int | None:
        """The figure of one row as a whole number of its last place."""
        if not self.known[row]:
            return None
        return self.large[row] if row in self.large else int(self.scaled[row])

    def tiled(self, rows: NDArray[np.intp], times: int) -> "DecimalColumn":
        """Some rows, so many times over."""
        large = {place + again * len(rows): self.large[row] for place, row in enumerate(rows.tolist())
                 for again in range(times) if row in self.large} if self.large else {}
        return DecimalColumn(np.tile(self.scaled[rows], times), np.tile(self.known[rows], times), self.places, large)

    def part(self, rows: slice) -> "DecimalColumn":
        """A run of rows."""
        large = {row - rows.start: value for row, value in self.large.items() if rows.start <= row < rows.stop}
        return DecimalColumn(self.scaled[rows], self.known[rows], self.places, large)

    def with_rows(self, rows: NDArray[np.intp], others: "DecimalColumn") -> "DecimalColumn":
        """The column with others in some rows."""
        scaled, known, large = self.scaled.copy(), self.known.copy(), dict(self.large)
        scaled[rows], known[rows] = others.scaled, others.known
        if large or others.large:
            places = rows.tolist()
            large = {row: value for row, value in large.items() if row not in set(places)}
            large |= {places[row]: value for row, value in others.large.items()}
        return DecimalColumn(scaled, known, self.places, large)

    def text(self, row: int) -> str | None:
        """The figure of one row as text."""
        scaled = self.at(row)
        return None if scaled is None else decimal_text(scaled, self.places)

    def texts(self) -> list[str | None]:
        """The text of every row, from a table of fractions."""
        whole, part = np.divmod(np.abs(self.scaled), 10**self.places)
        parts = _parts(self.places) if self.places else ("",)
        texts: list[str | None] = list(map(add, map(str, whole.tolist()), map(parts.__getitem__, part.tolist())))
        for row in np.flatnonzero(self.scaled < 0).tolist():
            texts[row] = f"-{texts[row]}"
        for row in [*np.flatnonzero(~self.known).tolist(), *self.large]:
            texts[row] = self.text(row)
        return texts


@lru_cache(maxsize=8)
def _parts(places: int) -> tuple[str, ...]:
    """The text of every fraction of so many places, its point included."""
    return tuple(f".{part:0{places}d}" for part in range(10**places))
