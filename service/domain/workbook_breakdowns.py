"""The sheet of breakdowns: what goes in, and the two pools, per kg of input.

    material pool  M = input + packaging + disposal - credits
    labour pool    L = input labour + minutes x rate / 60

A pool below zero leaves its cuts without a number: `credits within cost` is one, or not available. An input that
nothing makes, or that stands on a loop, is an empty entry.
"""

from collections.abc import Sequence
from fractions import Fraction

from service.domain.breakdown import Breakdown, Method, Role
from service.domain.live_table import Band, Cell, Column, Entry, Form, Given, Label, Live, Table
from service.domain.network import Key
from service.domain.quantity import unit_named
from service.domain.uses import used_by_input
from service.domain.workbook_cuts import add_outputs, cuts_table, sums_shared
from service.domain.workbook_formulas import NOT_KNOWN, of_minutes
from service.domain.workbook_names import (
    CHAIN_PRICE,
    CREDITS_WITHIN_COST,
    FINISHING_SHARED,
    METHOD,
    POOL_LABOUR,
    POOL_MATERIAL,
    SHARED_ON,
    WEIGHED,
    labour_of,
    material_of,
    name_of,
)
from service.domain.workbook_source import WorkbookSource
from service.domain.workbook_units import factor_of, units_cell
from service.domain.yields import Yields, weighed

NIL, ONE = Fraction(0), Fraction(1)
KILOGRAM = unit_named("kg").name
_NAMED = {"pool_material": POOL_MATERIAL, "pool_labour": POOL_LABOUR, "method": METHOD, "weighed": WEIGHED,
          "shared_on": SHARED_ON, "finishing_shared": FINISHING_SHARED, "within": CREDITS_WITHIN_COST,
          "chain_price": CHAIN_PRICE}


def breakdown_tables(source: WorkbookSource, names: dict[str, str]) -> tuple[Table, Table]:
    """The sheets of breakdowns and of their cuts; what formulas elsewhere use gets its name."""
    currency = source.kitchen.settings.currency
    breakdowns = Table("Breakdowns", "Breakdowns", "What is broken down, per kg of input: the material and the labour "
                       "to be shared over main and trim.", _columns(currency))
    cuts = cuts_table(currency)
    for breakdown in source.breakdowns:
        rows = add_outputs(cuts, source, breakdown, names)
        row = breakdowns.add(_line(source, breakdown, cuts, rows))
        names.update((name_of(what, breakdown.code), breakdowns.address(key, row)) for key, what in _NAMED.items())
    return breakdowns, cuts


def _columns(currency: str) -> Sequence[Column]:
    return (
        Column("name", "Breakdown", Form.TEXT, Band.NAMES, 40),
        Column("input", "Of", Form.TEXT, Band.NAMES, 30),
        Column("basis", "Yields from", Form.TEXT, Band.NAMES, 11),
        Column("method", "Shared by", Form.TEXT, Band.ENTRIES, 22),
        Column("weighed", "Paid for in tests, kg", Form.NUMBER, Band.ENTRIES),
        Column("minutes", "Minutes per kg", Form.NUMBER, Band.ENTRIES),
        Column("packaging", "Packaging per kg", Form.NUMBER, Band.ENTRIES),
        Column("factor", "Base units in one kg", Form.NUMBER, Band.WORKING),
        Column("input_material", f"Input material, {currency}", Form.COST, Band.WORKING),
        Column("input_labour", f"Input labour, {currency}", Form.COST, Band.WORKING),
        Column("disposal", "+ Disposal", Form.COST, Band.WORKING),
        Column("credits", "- Credits", Form.COST, Band.WORKING),
        Column("pool_material", "Material to share (M)", Form.COST, Band.WORKING),
        Column("own_labour", "Labour here", Form.COST, Band.WORKING),
        Column("pool_labour", "Labour to share (L)", Form.COST, Band.WORKING),
        Column("within", "Credits within cost", Form.NUMBER, Band.WORKING),
        Column("shared_on", "Sum of value x yield", Form.COST, Band.WORKING),
        Column("finishing_shared", "Finishing shared", Form.COST, Band.WORKING),
        Column("unaccounted", "Unaccounted (purge, drip, scale)", Form.SHARE, Band.WORKING, 14),
        Column("chain_price", "Price per kg of what was bought", Form.COST, Band.WORKING, 14),
        Column("missing", "Missing when this copy was made", Form.TEXT, Band.WORKING, 50),
        Column("code", "Code", Form.TEXT, Band.WORKING, 24),
    )


def _line(source: WorkbookSource, breakdown: Breakdown, cuts: Table, rows: tuple[int, int]) -> dict[str, Cell]:
    key, yields = ("breakdown", breakdown.code), source.sheet.yields(breakdown)
    used = used_by_input(breakdown.input)
    cells: dict[str, Cell] = {
        "name": Label(breakdown.name or breakdown.code), "input": Label(source.name(used)),
        "basis": Label(yields.basis),
        "method": Entry(breakdown.method.value, tuple(Method)), "minutes": Entry(breakdown.labour_minutes_per_kg),
        "packaging": Entry(breakdown.packaging_per_kg), "missing": Label(source.missing(key)),
        "code": Label(breakdown.code),
        "own_labour": of_minutes(breakdown.labour_minutes_per_kg, source.kitchen.settings)}
    if yields.basis == "tests":
        cells["weighed"] = Entry(sum((weighed(test).paid_for for test in yields.counting), NIL))
    return cells | _input(source, breakdown, used) | _sums(source, breakdown, cuts, rows) | _pools(source, key)


def _input(source: WorkbookSource, breakdown: Breakdown, used: Key) -> dict[str, Cell]:
    """What a kg of input costs, and the price per kg at the start of its chain."""
    if not source.stands_below(used, ("breakdown", breakdown.code)):
        return {"factor": Given(ONE), "input_material": Entry(None), "input_labour": Entry(None),
                "chain_price": NOT_KNOWN}
    bought = used[0] == "ingredient"
    factor = units_cell(source, used, KILOGRAM) if bought else Given(ONE)
    value = factor_of(factor)
    figures = source.costing.figures(used)
    material = _product(figures.material, value)
    chain = ("{input_material}", material) if bought else _chain_of(source, used[1])
    return {"factor": factor, "input_material": Live(f"{material_of(used)}*[factor]", material),
            "input_labour": Live(f"{'0' if bought else labour_of(used)}*[factor]", _product(figures.labour, value)),
            "chain_price": Live(*chain)}


def _chain_of(source: WorkbookSource, cut: str) -> tuple[str, Fraction | None]:
    """The price per kg at the start of the chain that a cut stands on: that of the breakdown which makes it."""
    return name_of(CHAIN_PRICE, source.makers[cut].code), source.sheet.figures(cut).chain.price_per_kg


def _sums(source: WorkbookSource, breakdown: Breakdown, cuts: Table, rows: tuple[int, int]) -> dict[str, Cell]:
    """What the outputs come to together."""
    yields = source.sheet.yields(breakdown)
    shared_on, finishing = sums_shared(source, breakdown)
    return {
        "disposal": Live(cuts.sum("disposed", *rows), _disposal(breakdown, yields)),
        "credits": Live(cuts.sum("credited", *rows), _credits(breakdown, yields)),
        "shared_on": Live(cuts.sum("value_yield", *rows), shared_on),
        "finishing_shared": Live(cuts.sum("finishing_yield", *rows), finishing),
        "unaccounted": Live(f"1-{cuts.sum('yield', *rows)}", yields.unaccounted)}


def _pools(source: WorkbookSource, key: Key) -> dict[str, Cell]:
    figures = source.costing.figures(key)
    below = figures.material is not None and figures.material < 0
    return {
        "pool_material": Live("[input_material]+[packaging]+{disposal}-{credits}", figures.material),
        "pool_labour": Live("[input_labour]+{own_labour}", figures.labour),
        "within": Live("IF(ISNUMBER({pool_material}),IF(ROUND({pool_material},9)<0,NA(),1),1)", None if below else ONE)}


def _disposal(breakdown: Breakdown, yields: Yields) -> Fraction:
    return sum((Fraction(output.disposal_cost) * yields.fractions[output.cut]
                for output in breakdown.outputs if output.role is Role.LOSS), NIL)


def _credits(breakdown: Breakdown, yields: Yields) -> Fraction | None:
    """None while a by-product that weighs something has no credit value."""
    total = NIL
    for output in breakdown.outputs:
        if output.role is Role.BY_PRODUCT and yields.fractions[output.cut]:
            if output.credit_value is None:
                return None
            total += Fraction(output.credit_value) * yields.fractions[output.cut]
    return total


def _product(value: Fraction | None, factor: Fraction | None) -> Fraction | None:
    return None if value is None or factor is None else value * factor
