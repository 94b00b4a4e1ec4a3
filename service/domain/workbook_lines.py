"""The sheets of lines: what each line of a recipe or dish takes, and what that costs.

    as purchased  = quantity / (preparation yield x cooking yield)
    material cost = as purchased x units costed in one x material per unit; labour likewise

Lines are for the whole record. What a line uses and does not stand, or stands on a loop, is an empty entry.
"""

from collections.abc import Sequence
from fractions import Fraction

from service.domain.as_purchased import as_purchased
from service.domain.exact_sums import times
from service.domain.live_table import Band, Cell, Column, Entry, Form, Given, Label, Live, Table
from service.domain.network import Key
from service.domain.recipe import Line
from service.domain.workbook_names import known_of, labour_of, material_of
from service.domain.workbook_source import WorkbookSource
from service.domain.workbook_units import factor_of, units_cell

NIL = Fraction(0)


def lines_table(name: str, of: str, currency: str) -> Table:
    """An empty sheet of the lines of recipes, or of dishes."""
    return Table(name, name, f"What goes into each {of.lower()}, for all that it makes: costs are material and labour "
                 "apart.", _columns(of, currency), fixed=2, group="owner")


def add_lines(table: Table, source: WorkbookSource, owner: Key, name: str, lines: Sequence[Line]) -> tuple[int, int]:
    """Add the lines of a recipe or dish; the rows they stand in, first and last."""
    first = table.next_row
    for line in lines:
        table.add(_line(source, owner, name, line))
    return first, table.next_row - 1


def _columns(of: str, currency: str) -> Sequence[Column]:
    return (
        Column("owner", of, Form.TEXT, Band.NAMES, 30),
        Column("name", "Uses", Form.TEXT, Band.NAMES, 30),
        Column("kind", "Kind", Form.TEXT, Band.NAMES, 11),
        Column("quantity", "Quantity", Form.NUMBER, Band.ENTRIES, 10),
        Column("unit", "Unit", Form.TEXT, Band.NAMES, 10),
        Column("preparation", "Preparation yield %", Form.NUMBER, Band.ENTRIES),
        Column("cooking", "Cooking yield %", Form.NUMBER, Band.ENTRIES),
        Column("as_purchased", "As purchased", Form.COST, Band.WORKING),
        Column("per", "Costed per", Form.TEXT, Band.WORKING, 10),
        Column("factor", "Of these in one unit", Form.NUMBER, Band.WORKING),
        Column("unit_material", f"Material, {currency} per", Form.COST, Band.WORKING),
        Column("unit_labour", f"Labour, {currency} per", Form.COST, Band.WORKING),
        Column("material", f"Material, {currency}", Form.COST, Band.WORKING),
        Column("labour", f"Labour, {currency}", Form.COST, Band.WORKING),
        Column("at_least", "Material at least", Form.COST, Band.WORKING),
        Column("note", "Note", Form.TEXT, Band.NAMES, 30),
        Column("code", "Code", Form.TEXT, Band.WORKING, 24),
    )


def _line(source: WorkbookSource, owner: Key, name: str, line: Line) -> dict[str, Cell]:
    kind, code = line.uses
    measure = source.measures.get(line.uses)
    taken, factor = as_purchased(line), units_cell(source, line.uses, line.unit)
    cells: dict[str, Cell] = {
        "owner": Label(name), "name": Label(source.name(line.uses)), "kind": Label(kind), "code": Label(code),
        "quantity": Entry(line.quantity), "unit": Label(line.unit), "preparation": Entry(line.yield_percent),
        "cooking": Entry(line.cooking_yield_percent), "note": Label(line.note),
        "as_purchased": Live("[quantity]/([preparation]/100*[cooking]/100)", taken),
        "per": Label("" if measure is None else measure.unit), "factor": factor}
    per = factor_of(factor)
    return cells | _costs(source, owner, line, None if per is None else taken * per)


def _costs(source: WorkbookSource, owner: Key, line: Line, taken: Fraction | None) -> dict[str, Cell]:
    """`taken` is how much the line takes, in what it is costed per; None where that cannot be said."""
    material, labour, at_least = "{as_purchased}*[factor]*[unit_material]", "{as_purchased}*[factor]*[unit_labour]", "0"
    if not source.stands_below(line.uses, owner):
        return {"unit_material": Entry(None), "unit_labour": Entry(None), "material": Live(material, None),
                "labour": Live(labour, None), "at_least": Live(_at_least(at_least), NIL)}
    figures = source.costing.figures(line.uses)
    unit_labour: Cell = Given(NIL)
    if line.ingredient is None:
        unit_labour = Live(labour_of(line.uses), figures.labour)
    if line.recipe is not None:
        at_least = f"IFERROR({{as_purchased}}*[factor]*{known_of(line.recipe)},0)"
    return {
        "unit_material": Live(material_of(line.uses), figures.material), "unit_labour": unit_labour,
        "material": Live(material, times(figures.material, taken)),
        "labour": Live(labour, times(figures.labour, taken)),
        "at_least": Live(_at_least(at_least), NIL if taken is None else taken * figures.known_material)}


def _at_least(otherwise: str) -> str:
    """The material where it is known; of a recipe what is known of it; else nothing."""
    return f"IF(ISNUMBER({{material}}),{{material}},{otherwise})"
