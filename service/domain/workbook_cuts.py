"""The sheet of cuts: every output of every breakdown, what it weighs, what it is worth, what it carries and costs.

All five methods are in one formula, so that choosing another one in the sheet of breakdowns moves every cut:

    value     what a kg is shared on: by the method, never below zero; one for a single carrying output
    per pool  value / sum of value x yield over main and trim
    material  per pool x M;  labour  per pool x L + finishing (of constant margin: per pool x (L + finishing shared))

An output that carries nothing costs its finishing only, whatever the pools are; one of yield nil has no cost per kg.
"""

from collections.abc import Mapping
from fractions import Fraction

from service.domain.allocation import RULES, allocate, carrier_of
from service.domain.breakdown import Breakdown, Method, Output, Role
from service.domain.cut_figures import CutFigures
from service.domain.exact_sums import added, times
from service.domain.live_table import Cell, Entry, Given, Label, Live, Table
from service.domain.rounding import SHARE_PLACES, UNIT_COST_PLACES, published
from service.domain.workbook_cut_columns import cut_columns
from service.domain.workbook_formulas import NOT_KNOWN, published_as
from service.domain.workbook_names import (
    CHAIN_PRICE,
    CHAIN_YIELD,
    CREDITS_WITHIN_COST,
    FINISHING_SHARED,
    METHOD,
    POOL_LABOUR,
    POOL_MATERIAL,
    PORTION,
    SHARED_ON,
    WEIGHED,
    labour_of,
    material_of,
    name_of,
)
from service.domain.workbook_source import WorkbookSource
from service.domain.yields import Yields, weighed

NIL = Fraction(0)
ONE = Fraction(1)


def cuts_table(currency: str) -> Table:
    return Table("Cuts", "Cuts", "Every output of every breakdown, per kg. Values and costs are money per kg of the "
                 "output; a yield is a fraction of the input.", cut_columns(currency), fixed=1, group="breakdown")


def add_outputs(table: Table, source: WorkbookSource, breakdown: Breakdown, names: dict[str, str]) -> tuple[int, int]:
    """Add the outputs of a breakdown; the rows they stand in, first and last."""
    first, yields = table.next_row, source.sheet.yields(breakdown)
    shares = _Shares(source, breakdown, yields)
    for output in breakdown.outputs:
        cells = _names_and_entries(breakdown, output, yields) | _weights(breakdown, output, yields)
        made = output.role.is_cut and source.makers[output.cut] is breakdown
        figures = source.sheet.figures(output.cut) if made else None
        cells |= _carried(shares, output, figures) if output.role.carries_joint_cost else _by_product(output)
        row = table.add(cells if figures is None else cells | _published(shares, figures))
        if figures is not None:
            _name(table, output.cut, row, names)
    return first, table.next_row - 1


class _Shares:
    """What the outputs of one breakdown are shared on, now."""

    def __init__(self, source: WorkbookSource, breakdown: Breakdown, yields: Yields) -> None:
        self.source, self.breakdown, self.yields = source, breakdown, yields
        carriers = [carrier_of(output, yields.fractions[output.cut])
                    for output in breakdown.outputs if output.role.carries_joint_cost]
        self.single = len(carriers) == 1
        self.carried = allocate(breakdown.method, carriers).carried
        self.values = {carrier.cut: ONE if self.single else _at_least_nil(RULES[breakdown.method](carrier))
                       for carrier in carriers}

    def named(self, what: str) -> str:
        """The name of a figure of the breakdown."""
        return name_of(what, self.breakdown.code)


def sums_shared(source: WorkbookSource, breakdown: Breakdown) -> tuple[Fraction | None, Fraction | None]:
    """Per kg of input, the sum of value x yield, and that of the finishing of outputs with a value."""
    shares = _Shares(source, breakdown, source.sheet.yields(breakdown))
    products = [times(value, shares.yields.fractions[cut]) for cut, value in shares.values.items()]
    finishing = [_finishing(shares, output) for output in breakdown.outputs if output.role.carries_joint_cost]
    return added(*products), added(*finishing)


def _names_and_entries(breakdown: Breakdown, output: Output, yields: Yields) -> dict[str, Cell]:
    cells: dict[str, Cell] = {
        "name": Label(output.name or output.cut), "breakdown": Label(breakdown.name or breakdown.code),
        "role": Label(output.role.value.replace("_", "-")), "code": Label(output.cut)}
    if yields.basis == "tests":
        weights = (weighed(test).outputs[output.cut] for test in yields.counting)
        cells["weighed"] = Entry(sum(weights, NIL))
    else:
        cells["declared"] = Entry(output.expected_yield)
    if output.role.carries_joint_cost:
        cells |= {"market": Entry(output.market_value), "split_off": Entry(output.split_off_value),
                  "relative": Entry(output.relative_value), "finishing": Entry(output.finishing_cost)}
    elif output.role is Role.BY_PRODUCT:
        cells["credit"] = Entry(output.credit_value)
    else:
        cells["disposal"] = Entry(output.disposal_cost)
    return cells | ({"portion": Entry(output.portion_weight_kg)} if output.role.is_cut else {})


def _weights(breakdown: Breakdown, output: Output, yields: Yields) -> dict[str, Cell]:
    """The yield, and what the output adds to the material pool or takes off it."""
    fraction = yields.fractions[output.cut]
    formula = f"[weighed]/{name_of(WEIGHED, breakdown.code)}" if yields.basis == "tests" else "[declared]"
    cells: dict[str, Cell] = {"yield": Live(formula, fraction)}
    if output.role is Role.BY_PRODUCT:
        value = None if output.credit_value is None else Fraction(output.credit_value)
        cells["credited"] = Live("IF({yield}=0,0,[credit]*{yield})", times(value, fraction) if fraction else NIL)
    elif output.role is Role.LOSS:
        cells["disposed"] = Live("[disposal]*{yield}", Fraction(output.disposal_cost) * fraction)
    return cells


def _carried(shares: _Shares, output: Output, figures: CutFigures | None) -> dict[str, Cell]:
    """What a main or trim output carries of the pools, and so costs."""
    value, carried = shares.values[output.cut], shares.carried.get(output.cut)
    pool, method, total = shares.named(POOL_LABOUR), shares.named(METHOD), shares.named(SHARED_ON)
    spread = f"{{per_pool}}*({pool}+{shares.named(FINISHING_SHARED)})"
    within = shares.named(CREDITS_WITHIN_COST)
    return {
        "value": Given(ONE) if shares.single else Live(_value_by(method), value),
        "value_yield": Live("{value}*{yield}", times(value, shares.yields.fractions[output.cut])),
        "finishing_yield": Live("IF({value}>0,[finishing]*{yield},0)", _finishing(shares, output)),
        "per_pool": Live(f"IF({{yield}}>0,IF({total}>0,{{value}}/{total},NA()),NA())",
                         None if carried is None else carried.material_per_pool),
        "material": Live(f"IF({{per_pool}}=0,0,{{per_pool}}*{shares.named(POOL_MATERIAL)}*{within})",
                         None if figures is None else figures.material_cost_per_kg),
        "labour": Live(f'IF({{per_pool}}=0,[finishing],{within}*IF({method}="{Method.CONSTANT_MARGIN.value}",{spread},'
                       f"{{per_pool}}*{pool}+[finishing]))", None if figures is None else figures.labour_cost_per_kg)}


def _by_product(output: Output) -> dict[str, Cell]:
    """A by-product costs its credit value; a loss costs its user nothing, since nobody may use it."""
    if output.role is Role.LOSS:
        return {}
    value = None if output.credit_value is None else Fraction(output.credit_value)
    return {"material": Live("[credit]", value), "labour": Given(NIL)}


def _value_by(method: str) -> str:
    """What a kg is shared on, whatever the method is; never below nil, not available where a value is missing."""
    after_finishing = "[market]-[finishing]"
    by_method = {
        Method.WEIGHT: "1", Method.MARKET_VALUE: f"IF(ISNUMBER({{split_off}}),{{split_off}},{after_finishing})",
        Method.NET_REALISABLE_VALUE: after_finishing, Method.CONSTANT_MARGIN: "[market]",
        Method.RELATIVE_VALUE: "[relative]"}
    formula = "NA()"
    for each, value in reversed(by_method.items()):
        formula = f'IF({method}="{each.value}",{value},{formula})'
    return f"MAX(0,{formula})"


def _published(shares: _Shares, figures: CutFigures) -> dict[str, Cell]:
    cost = "{material}+{labour}"
    cells: dict[str, Cell] = {
        "yield_published": published_as("{yield}", figures.yield_fraction, SHARE_PLACES),
        "material_published": published_as("{material}", figures.material_cost_per_kg, UNIT_COST_PLACES),
        "labour_published": published_as("{labour}", figures.labour_cost_per_kg, UNIT_COST_PLACES),
        "cost_published": published_as(cost, figures.cost_per_kg, UNIT_COST_PLACES),
        "portion_published": _per_portion(f"ROUND(({cost})*{{portion}},{UNIT_COST_PLACES})", figures),
        "chain_yield": _chain_yield(shares, figures),
        "chain_yield_published": published_as("{chain_yield}", figures.chain.yield_of_ingredient, SHARE_PLACES),
        "missing": Label(shares.source.missing(("cut", figures.output.cut)))}
    if not figures.output.role.carries_joint_cost:
        return cells
    price = shares.named(CHAIN_PRICE)
    return cells | {
        "factor_published": published_as(f"IF({price}=0,NA(),{{material}}/{price})", figures.cost_factor, SHARE_PLACES),
        "share_published": published_as(_share(shares), figures.share_of_joint_cost, SHARE_PLACES),
        "to_look_at": _to_look_at(figures)}


def _per_portion(formula: str, figures: CutFigures) -> Live:
    """What a portion costs; nothing is said where no portion is weighed out."""
    cost = figures.cost_per_portion
    value = None if cost is None else published(cost, UNIT_COST_PLACES)
    return Live(f'IF(ISNUMBER({{portion}}),{formula},"")', "" if figures.output.portion_weight_kg is None else value)


def _share(shares: _Shares) -> str:
    """Under equal margins a share depends on the pools; else it is the method's own."""
    own = "{per_pool}*{yield}"
    if shares.single:
        return own
    joint = f"({shares.named(POOL_MATERIAL)}+{shares.named(POOL_LABOUR)})"
    by_margin = f"IF({joint}=0,NA(),({{material}}+{{labour}}-[finishing])*{{yield}}/{joint})"
    return f'IF({shares.named(METHOD)}="{Method.CONSTANT_MARGIN.value}",{by_margin},{own})'


def _chain_yield(shares: _Shares, figures: CutFigures) -> Live:
    value, cut = figures.chain.yield_of_ingredient, shares.breakdown.input.cut
    if value is None:
        return NOT_KNOWN
    return Live("{yield}" if cut is None else f"{{yield}}*{name_of(CHAIN_YIELD, cut)}", value)


def _to_look_at(figures: CutFigures) -> Live:
    """What a person should look at, as far as it moves with the cells."""
    words: Mapping[str, str] = {"costs_more_to_finish_than_worth": "costs more to finish than it is worth",
                                "dearer_than_buying": "dearer than buying"}
    finish, dear = words.values()
    found = [words[finding.code] for finding in figures.findings if finding.code in words]
    cost = "{material}+IF(ISNUMBER({labour}),{labour},0)"
    above = f'IF(ROUND({cost},4)>ROUND({{market}},4),"{dear}","")'
    dearer = f'IF(ISNUMBER({{material}}),IF(ISNUMBER({{market}}),{above},""),"")'
    nil = f'IF(ISNUMBER({{per_pool}}),IF({{per_pool}}=0,"{finish}",""),"")'
    return Live(f'{nil}&IF(AND({nil}<>"",{dearer}<>""),", ","")&{dearer}', ", ".join(found))


def _name(table: Table, cut: str, row: int, names: dict[str, str]) -> None:
    names[material_of(("cut", cut))] = table.address("material", row)
    names[labour_of(("cut", cut))] = table.address("labour", row)
    names[name_of(CHAIN_YIELD, cut)] = table.address("chain_yield", row)
    names[name_of(PORTION, cut)] = table.address("portion", row)


def _finishing(shares: _Shares, output: Output) -> Fraction | None:
    value = shares.values[output.cut]
    if value is None:
        return None
    return Fraction(output.finishing_cost) * shares.yields.fractions[output.cut] if value > 0 else NIL


def _at_least_nil(value: Fraction | None) -> Fraction | None:
    return None if value is None else max(value, NIL)
