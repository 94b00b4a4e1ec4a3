"""What each price is for, and what a pack holds: from the columns of units and packs, the price's header and cells."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import repeat
from typing import Any

from service.domain.supplier_item import PACK, Pack
from service.integrations.price_lists.cells import Cell, shown, typed_as_text
from service.integrations.price_lists.pack_texts import package_in, read_pack, read_per
from service.integrations.price_lists.table_columns import TableColumns
from service.integrations.price_lists.unit_words import Measure

_PAIRED = ("pack_count", "pack_quantity", "pack_unit")
_ONE = Decimal(1)


@dataclass(frozen=True, slots=True)
class _Terms:
    """What one combination of texts says."""

    quantity: Decimal
    unit: str | None
    pack: Pack | None
    fault: str = ""


def term_fields(table: TableColumns, mark: str, per_header: str, per_cells: Sequence[str] | None
                ) -> dict[str, Iterable[Any]]:
    """The fields of the rows that say what a price is for.

    Shape:   what stands in the price's cell goes before the price's header, which goes before the column of units.
    """
    units = table.texts("unit")
    pers = _first_said(per_cells, per_header, units)
    packs = _pack_texts(table, mark)
    keys = list(zip(pers, units, packs, strict=True))
    telling = next(each for each in ("pack", "unit", "price") if each in table.cells)
    terms = {key: _read(*key, mark) for key in table.different(telling, keys)}
    by_row = list(map(terms.__getitem__, keys))
    table.tell("pack", keys, {key: each.fault for key, each in terms.items() if each.fault})
    return {"per_quantity": [each.quantity for each in by_row], "per_unit": [each.unit for each in by_row],
            "per_unit_text": pers, "pack": [each.pack for each in by_row]}


def _first_said(per_cells: Sequence[str] | None, per_header: str, units: list[str]) -> list[str]:
    otherwise = [per_header] * len(units) if per_header else units
    if per_cells is None:
        return otherwise
    return [said or other for said, other in zip(per_cells, otherwise, strict=True)]


def _read(per_text: str, unit_text: str, pack_text: str, mark: str) -> _Terms:
    per = read_per(per_text, mark) if per_text else None
    sold_by = per if unit_text == per_text else read_per(unit_text, mark) if unit_text else None
    of = Measure(sold_by.quantity, sold_by.unit) if sold_by is not None else None
    pack = read_pack(pack_text, mark, of) if pack_text else None
    quantity, unit = (per.quantity, per.unit) if per is not None else (_ONE, None)
    if pack is None and unit in (None, PACK) and any(map(str.isdigit, pack_text)):
        return _Terms(quantity, unit, None, f"The pack {shown(pack_text)} cannot be read: write it as in 2 x 5 kg.")
    pack = pack or (per.pack if per else None) or (sold_by.pack if sold_by else None)
    if pack is not None and pack.name == PACK and (package := package_in(unit_text)):
        pack = replace(pack, name=package)
    return _Terms(quantity, unit, pack)


def _pack_texts(table: TableColumns, mark: str) -> Sequence[str]:
    """The packs as text: their own column, with the columns of count, quantity and unit where there are such."""
    packs = table.texts("pack")
    if not any(meaning in table.cells for meaning in _PAIRED):
        return packs
    paired: list[Iterable[Any]] = [table.cells.get(meaning) or repeat("") for meaning in _PAIRED]
    keys: list[tuple[Any, ...]] = list(zip(packs, *paired))  # noqa: B905  # repeat has no end
    texts = {key: _in_words(mark, *key) for key in table.different("pack", keys)}
    return [texts[key] for key in keys]


def _in_words(mark: str, pack: str, count: Cell, quantity: Cell, unit: Cell) -> str:
    """One text out of several cells: "case", 2, 5 and "kg" are "case 2 x 5 kg"."""
    if any(map(str.isdigit, pack)):
        return pack
    numbers = " x ".join(text for text in (_number(count, mark), _number(quantity, mark)) if text)
    return " ".join(text for text in (pack, numbers, _number(unit, mark)) if text) if numbers else pack


def _number(cell: Cell, mark: str) -> str:
    """A cell as text with the table's decimal mark. Four decimals at least, lest three look like thousands."""
    if isinstance(cell, Decimal):
        text = typed_as_text(cell)
        return (text + "0" if len(text.partition(".")[2]) == 3 else text).replace(".", mark)
    return cell.strip() if isinstance(cell, str) else typed_as_text(cell)
