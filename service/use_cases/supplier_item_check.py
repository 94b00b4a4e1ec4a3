"""What must be right in a supplier's item: whom and what it names, what a pack of it holds, its GTIN."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from service.domain.errors import Fault, MissingConversion, NotFound, UnknownUnit, WrongValue
from service.domain.gtin import gtin_fault, in_fourteen_digits
from service.domain.history import record_on, recorded_last
from service.domain.ingredient import Ingredient
from service.domain.kitchen import Kitchen
from service.domain.quantity import convert, unit_named
from service.domain.supplier_item import PACK, Pack, SupplierItem, item_code_fault, item_key
from service.use_cases.keep_record import stands
from service.use_cases.kinds import Change
from service.use_cases.line_checks import reference_fault

_LARGEST = Fraction(10) ** 12
_FINEST = Fraction(1, 10 ** 6)


def its_supplier(change: Change, kitchen: Kitchen) -> Fault | None:
    """An item is its supplier's: of one that was never recorded there is none."""
    supplier = change.record.supplier
    return None if supplier in kitchen.suppliers else NotFound(f"There is no supplier {supplier!r}; record it first.")


def supplier_item_faults(change: Change, kitchen: Kitchen) -> Sequence[Fault]:
    """Every fault of an item, each pointing at its field; of what the address names, at the parameter."""
    item: SupplierItem = change.record
    faults: list[Fault] = []
    wrong_code = item_code_fault(item.code)
    if wrong_code is not None:
        faults.append(WrongValue(wrong_code, parameter="item", error_code="not-a-code"))
    supplier = reference_fault(kitchen, "supplier", item.supplier, change.day)
    if supplier is not None:
        faults.append(type(supplier)(supplier.detail, parameter="code"))
    ingredient = reference_fault(kitchen, "ingredient", item.ingredient, change.day)
    if ingredient is not None:
        faults.append(ingredient.at("#/ingredient"))
    named = None if ingredient is not None else record_on(kitchen.ingredients[item.ingredient], change.day)
    return [*faults, *_unit_faults(item, named), *_pack_faults(item.pack), *_gtin_faults(item, change, kitchen)]


def _unit_faults(item: SupplierItem, ingredient: Ingredient | None) -> list[Fault]:
    """Units that are none, or do not convert into the ingredient's base unit (when it is known)."""
    units = {"#/pack/unit": item.pack.unit} | ({} if item.priced_per == PACK else {"#/priced_per": item.priced_per})
    faults: list[Fault] = []
    for pointer, unit in units.items():
        try:
            unit_named(unit)
            if ingredient is not None:
                convert(Fraction(1), unit, ingredient.base_unit, ingredient.conversions)
        except (UnknownUnit, MissingConversion) as fault:
            faults.append(fault.at(pointer))
    return faults


def _pack_faults(pack: Pack) -> list[Fault]:
    counts: Mapping[str, Decimal] = {"count": pack.count, "quantity": pack.quantity}
    faults: list[Fault] = [WrongValue(f"A pack's {name} is above zero.", f"#/pack/{name}")
                           for name, value in counts.items() if value <= 0]
    holds = Fraction(pack.count) * Fraction(pack.quantity)
    if holds >= _LARGEST or holds % _FINEST:
        faults.append(WrongValue("A pack holds its count times its quantity, which here has more than 12 digits before "
                                 "the point or 6 after it: give rounder figures.", "#/pack"))
    return faults


def _gtin_faults(item: SupplierItem, change: Change, kitchen: Kitchen) -> list[Fault]:
    if not item.gtin:
        return []
    wrong = gtin_fault(item.gtin)
    if wrong is not None:
        return [WrongValue(wrong, "#/gtin")]
    other = _other_with_its_gtin(item, change, kitchen)
    if other is None:
        return []
    return [WrongValue(f"Item {other!r} of {item.supplier!r} has this GTIN already; correct one of the two, or retire "
                       "that item first.", "#/gtin", item=other)]


def _other_with_its_gtin(item: SupplierItem, change: Change, kitchen: Kitchen) -> str | None:
    """Another item of the supplier that stands, on the day of the change or later, and has the same GTIN."""
    theirs, gtin = item_key(item.supplier, ""), in_fourteen_digits(item.gtin)
    for key, history in kitchen.supplier_items.items():
        if key.startswith(theirs):
            other = recorded_last(history).record
            if (other.gtin and in_fourteen_digits(other.gtin) == gtin and key != change.code
                    and stands(history, change.day)):
                return other.code
    return None
