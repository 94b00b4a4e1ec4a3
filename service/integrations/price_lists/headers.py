"""The header of a table: which of its first rows it is, and what each column means.

The asker's own words come first, then what was remembered of the supplier's last table when all its headers stand in
this one, then the words known here. Where two columns could be the price alike, none is taken: the asker is asked.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from service.domain.errors import ColumnsNotRecognised
from service.integrations.price_lists.cells import Cell, shown, texts
from service.integrations.price_lists.folding import folded
from service.integrations.price_lists.header_words import COUNTING, ITEM_OR_NAME, MEANING_OF, PREFERENCE, SMALL_WORDS
from service.integrations.price_lists.price_headers import PriceHeader, price_header
from service.use_cases.price_files import HowToRead

IDENTIFYING = ("item", "gtin", "name")
"""A row is told by one of these."""
_LONGEST_HEADER = 120
_MOST_SHOWN = 40


@dataclass(frozen=True, slots=True)
class Header:
    """A header row.

    Shape:   `place` is its place among the first rows, from 0; `columns` maps a meaning to the column's place, from 0;
             `titles` are the headers as the file has them; `rivals` are those of columns that could be the price alike.
    """

    place: int
    titles: Sequence[str]
    columns: Mapping[str, int]
    price: PriceHeader = field(default_factory=lambda: PriceHeader(1))
    rivals: tuple[str, ...] = ()

    @property
    def is_enough(self) -> bool:
        """Whether a table can be read by it."""
        return "price" in self.columns and any(meaning in self.columns for meaning in IDENTIFYING)

    def title(self, meaning: str) -> str:
        """How the file heads the column of that meaning."""
        return self.titles[self.columns[meaning]]


def find_header(first_rows: Sequence[Sequence[Cell]], how: HowToRead) -> Header:
    """The header among the first rows of a table.

    Raises:  ColumnsNotRecognised, with the columns found, what is missing, and the parameters to say it with.
    """
    best = best_header(first_rows, how)
    if best is None or not best.is_enough:
        raise _not_recognised(best, first_rows, how)
    return best


def best_header(first_rows: Sequence[Sequence[Cell]], how: HowToRead) -> Header | None:
    """The row that is most like a header; None: no row has a word that is known, or not all that the asker named."""
    found = [header for place in range(len(first_rows))
             if (header := _header(place, first_rows, how)) is not None and header.columns]
    return max(found, key=lambda header: (header.is_enough, len(header.columns)), default=None)


def _header(place: int, first_rows: Sequence[Sequence[Cell]], how: HowToRead) -> Header | None:
    """What a row says when it is taken for a header; None: it has not all the columns that the asker named."""
    titles = texts(cell if isinstance(cell, str) else "" for cell in first_rows[place])
    keys = [folded(title) if len(title) <= _LONGEST_HEADER else "" for title in titles]
    if not any(keys):
        return None
    columns = _said(how.columns, keys)
    if columns is None:
        return None
    if how.remembered is not None:
        kept = _said(dict(how.remembered.columns), keys) or {}
        said_by_asker = set(columns.values())
        columns = {**{meaning: at for meaning, at in kept.items() if at not in said_by_asker}, **columns}
    counters = {column for column, key in enumerate(keys)
                if key in COUNTING and _only_counts(first_rows[place + 1:], column)}
    return _completed(place, titles, keys, columns, counters)


def _only_counts(rows: Sequence[Sequence[Cell]], column: int) -> bool:
    """Whether a column numbers the rows, 1, 2, 3, and so names no item."""
    cells = [str(cells[column]).strip() for cells in rows if column < len(cells) and cells[column]]
    return len(cells) > 1 and cells == [str(number) for number in range(1, len(cells) + 1)]


def _said(said: Mapping[str, str], keys: Sequence[str]) -> dict[str, int] | None:
    """Where the headers that somebody named stand; None: not all of them stand there, once each."""
    wanted = {meaning: folded(header) for meaning, header in said.items()}
    if not all(key and keys.count(key) == 1 for key in wanted.values()):
        return None
    return {meaning: keys.index(key) for meaning, key in wanted.items()}


def _completed(place: int, titles: Sequence[str], keys: Sequence[str], said: dict[str, int], passed_over: set[int]
               ) -> Header:
    """The columns that were named, and those whose words are known here."""
    columns, taken = dict(said), passed_over | set(said.values())
    candidates: dict[str, list[tuple[int, int]]] = {}
    prices: list[tuple[int, PriceHeader]] = []
    for column, key in enumerate(keys):
        bare = " ".join(word for word in key.split() if word not in SMALL_WORDS)
        if column in taken or not bare:
            continue
        if bare in MEANING_OF:
            candidates.setdefault(MEANING_OF[bare], []).append((PREFERENCE[bare], column))
        elif bare in ITEM_OR_NAME:
            candidates.setdefault("item or name", []).append((0, column))
        elif (price := price_header(titles[column])) is not None:
            prices.append((column, price))
    for meaning in [each for each in candidates if each != "item or name"]:
        columns.setdefault(meaning, min(candidates[meaning])[1])
    for _, column in candidates.get("item or name", ())[:1]:
        columns.setdefault("name" if "item" in columns else "item", column)
    return _with_price(place, titles, columns, prices)


def _with_price(place: int, titles: Sequence[str], columns: dict[str, int],
                prices: Sequence[tuple[int, PriceHeader]]) -> Header:
    if "price" in columns:
        return Header(place, titles, columns, price_header(titles[columns["price"]]) or PriceHeader(1))
    highest = max((price.rank for _, price in prices), default=0)
    best = [(column, price) for column, price in prices if price.rank == highest]
    if len(best) != 1:
        return Header(place, titles, columns, rivals=tuple(titles[column] for column, _ in best))
    return Header(place, titles, {**columns, "price": best[0][0]}, best[0][1])


def _not_recognised(best: Header | None, first_rows: Sequence[Sequence[Cell]], how: HowToRead) -> ColumnsNotRecognised:
    titles = best.titles if best is not None else _fullest(first_rows)
    columns = [title[:_LONGEST_HEADER] for title in titles if title][:_MOST_SHOWN]
    unfound = _unfound(first_rows, how)
    missing = [] if best is not None and "price" in best.columns else ["price"]
    if best is None or not any(meaning in best.columns for meaning in IDENTIFYING):
        missing.append("item")
    parameters = [f"{meaning}_column" for meaning in (missing or sorted(how.columns))]
    if unfound:
        detail = (f"No row among the first {len(first_rows)} has the columns that were named: "
                  f"{', '.join(map(shown, unfound))} is not there, or is there twice. Name them as the file does.")
    elif best is not None and best.rivals:
        alike = len(set(best.rivals)) == 1
        detail = (f"More than one column could be the price: {', '.join(map(shown, best.rivals))}. "
                  f"{'Rename one of them' if alike else 'Say which it is with price_column'}.")
    else:
        detail = (f"No row among the first {len(first_rows)} heads a column of each kind that is needed; missing: "
                  f"{' and '.join(missing)}. Name the columns as the file heads them, with {' and '.join(parameters)} "
                  "(name_column or gtin_column do for item_column), or give the table a header row.")
    return ColumnsNotRecognised(detail, columns=columns, missing=missing, parameters=parameters)


def _unfound(first_rows: Sequence[Sequence[Cell]], how: HowToRead) -> list[str]:
    """Headers that the asker named and that no row has once."""
    rows = [[folded(cell) if isinstance(cell, str) and len(cell) <= _LONGEST_HEADER else "" for cell in cells]
            for cells in first_rows]
    return [header for header in how.columns.values()
            if not folded(header) or not any(keys.count(folded(header)) == 1 for keys in rows)]


def _fullest(first_rows: Sequence[Sequence[Cell]]) -> Sequence[str]:
    rows = [texts(cell if isinstance(cell, str) else "" for cell in cells) for cells in first_rows]
    return max(rows, key=lambda titles: sum(map(bool, titles)), default=())
