"""Units in a workbook: how many units that costs are per one other unit is, as a given number or a live conversion.

Units of one dimension convert by their own factor. Mass, volume and count convert by what the record says, which is an
entry of its own: a line of the sheet of conversions, or the portion weight of a cut. Where nothing is said, the factor
itself is an empty entry.
"""

from fractions import Fraction

from service.domain.as_purchased import Measure
from service.domain.compile_lines import unit_factor
from service.domain.findings import Gap
from service.domain.live_table import Band, Cell, Column, Entry, Form, Given, Label, Live, Table, in_formula
from service.domain.network import Key
from service.domain.quantity import Conversion, Dimension, Unit, unit_named
from service.domain.workbook_names import PORTION, conversion_of, name_of
from service.domain.workbook_source import WorkbookSource

_COLUMNS = (
    Column("name", "Of", Form.TEXT, Band.NAMES, 30),
    Column("kind", "Kind", Form.TEXT, Band.NAMES, 12),
    Column("quantity", "So much", Form.NUMBER, Band.ENTRIES),
    Column("unit", "of this unit", Form.TEXT, Band.NAMES, 12),
    Column("to_quantity", "is so much", Form.NUMBER, Band.ENTRIES),
    Column("to_unit", "of this unit", Form.TEXT, Band.NAMES, 12),
    Column("ratio", "In base units: one is so many", Form.NUMBER, Band.WORKING, 20),
    Column("code", "Code", Form.TEXT, Band.WORKING, 24),
)


def conversions_table(source: WorkbookSource, names: dict[str, str]) -> Table:
    """The conversions of all ingredients and recipes shown; each ratio gets its name."""
    table = Table("Conversions", "Conversions", "How mass, volume and count of one thing convert into each other. Base "
                  "units are kg, l and each.", _COLUMNS)
    owners = [("ingredient", ingredient.code, ingredient.conversions) for ingredient in source.ingredients]
    owners += [("recipe", recipe.code, recipe.conversions) for recipe in source.recipes]
    for kind, code, conversions in owners:
        for conversion in conversions:
            _add(table, source, (kind, code), conversion, names)
    return table


def units_cell(source: WorkbookSource, key: Key, unit: str) -> Cell:
    """How many units that the costs of `key` are per one `unit` is."""
    measure = source.measures.get(key)
    if measure is None:
        return Entry(None)
    here, there = unit_named(unit), unit_named(measure.unit)
    if here.dimension is there.dimension:
        return Given(here.factor / there.factor)
    factor = unit_factor(key, unit, measure)
    value = None if isinstance(factor, Gap) else factor
    if key[0] == "cut":
        return _by_portion(key[1], here, value)
    if value is None:
        return Entry(None)
    return Live(in_formula(here.factor) + _bridge(key, here.dimension, there.dimension, measure), value)


def factor_of(cell: Cell) -> Fraction | None:
    """What such a cell comes to now; None where it is empty."""
    return cell.value if isinstance(cell, Given | Live) and isinstance(cell.value, Fraction) else None


def _add(table: Table, source: WorkbookSource, key: Key, conversion: Conversion, names: dict[str, str]) -> None:
    left, right = unit_named(conversion.unit), unit_named(conversion.to_unit)
    ratio = Fraction(conversion.to_quantity) * right.factor / (Fraction(conversion.quantity) * left.factor)
    row = table.add({
        "name": Label(source.name(key)), "kind": Label(key[0]), "code": Label(key[1]),
        "quantity": Entry(conversion.quantity), "unit": Label(conversion.unit),
        "to_quantity": Entry(conversion.to_quantity), "to_unit": Label(conversion.to_unit),
        "ratio": Live(f"[to_quantity]*{in_formula(right.factor)}/([quantity]*{in_formula(left.factor)})", ratio)})
    names[conversion_of(key, left.dimension, right.dimension)] = table.address("ratio", row)


def _by_portion(cut: str, here: Unit, value: Fraction | None) -> Cell:
    """Of a cut only `each` converts, by its portion weight."""
    if here.dimension is not Dimension.COUNT:
        return Entry(None)
    portion = name_of(PORTION, cut)
    return Live(f"IF(ISNUMBER({portion}),{portion}*{in_formula(here.factor)},NA())", value)


def _bridge(key: Key, here: Dimension, there: Dimension, measure: Measure) -> str:
    """The conversions that lead from one dimension to another, as factors of a formula."""
    steps: dict[tuple[Dimension, Dimension], str] = {}
    for conversion in measure.conversions:
        left, right = unit_named(conversion.unit).dimension, unit_named(conversion.to_unit).dimension
        name = conversion_of(key, left, right)
        steps[left, right], steps[right, left] = f"*{name}", f"/{name}"
    if (here, there) in steps:
        return steps[here, there]
    third = next(dimension for dimension in Dimension if dimension not in (here, there))
    return steps[here, third] + steps[third, there]
