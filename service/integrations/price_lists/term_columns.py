"""What each price is for, and what a pack holds: from the columns of units and packs, the price's header and cells."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import cache
from itertools import repeat
from typing import Any

from service.domain.supplier_item import PACK, Pack
from service.integrations.price_lists.cells import Cell, shown, typed_as_text
from service.integrations.price_lists.pack_texts import PricedPer, package_in, read_pack, read_per
from service.integrations.price_lists.table_columns import TableColumns
from service.integrations.price_lists.unit_words import Measure

_PAIRED = ("pack_count", "pack_quantity", "pack_unit")
_ONE = Decimal(1)


def term_fields(table: TableColumns, mark: str, per_header: str, per_cells: Sequence[str] | None
                ) -> dict[str, Iterable[Any]]:
    """The fields of the rows that say what a price is for.

    Shape:   what stands in the price's cell goes before the price's header, which goes before the column of units.
    """
    units = table.texts("unit")
    pers = _first_said(per_cells, per_header, units)
    per_of = {text: _per(text, mark) for text in table.different("unit" if "unit" in table.cells else "price", pers)}
    by_row = list(map(per_of.__getitem__, pers))
    fields: dict[str, Iterable[Any]] = {
        "per_quantity": [each.quantity for each in by_row], "per_unit": [each.unit or None for each in by_row],
        "per_unit_text": pers}
    if any(meaning in table.cells for meaning in ("pack", *_PAIRED)) or any(each.pack for each in per_of.values()):
        fields["pack"] = _packs(table, mark, by_row, units)
    return fields


def _per(text: str, mark: str) -> PricedPer:
    return (read_per(text, mark) if text else None) or PricedPer(_ONE, "")


def _packs(table: TableColumns, mark: str, pers: Sequence[PricedPer], units: Sequence[str]) -> list[Pack | None]:
    """Each row's pack: as its own column says, helped by the unit ("2 x 5" of "kg", a "case"), or as the unit says."""
    texts = _pack_texts(table, mark)
    alone = {text: read_pack(text, mark) if text else None for text in table.different("pack", texts)}
    sold_by = {text: _per(text, mark) for text in table.different("unit", units)}
    kinds = {text: package_in(text) for text in sold_by}
    if all(alone.values()) and not any(kinds.values()):
        return list(map(alone.__getitem__, texts))

    @cache
    def helped(text: str, unit: str) -> Pack | None:
        by = sold_by[unit]
        measure = Measure(by.quantity, by.unit) if text and by.unit else None
        pack = alone[text] or (read_pack(text, mark, measure) if measure else None) or by.pack
        return replace(pack, name=kinds[unit]) if pack and pack.name == PACK and kinds[unit] else pack

    packs: list[Pack | None] = []
    for place, (text, unit, per) in enumerate(zip(texts, units, pers, strict=True)):
        pack = alone[text]
        if pack is None or (kinds[unit] and pack.name == PACK):
            pack = helped(text, unit) or per.pack
            if pack is None and per.unit in ("", PACK) and any(map(str.isdigit, text)):
                table.tell_one(place, "pack", f"The pack {shown(text)} cannot be read: write it as in 2 x 5 kg.")
        packs.append(pack)
    return packs


def _first_said(per_cells: Sequence[str] | None, per_header: str, units: list[str]) -> list[str]:
    otherwise = [per_header] * len(units) if per_header else units
    if per_cells is None:
        return otherwise
    return [said or other for said, other in zip(per_cells, otherwise, strict=True)]


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
