"""The working of a breakdown: the pools that are shared, what each output is shared on, and what a kg of a cut costs.

    material to share  M = input + packaging + disposal of the losses - credits of the by-products, per kg of input
    labour to share    L = the input's labour + minutes per kg x rate / 60
    shared on            the output's value (or weight) x its yield; its share is that over the sum
    a kg of a cut        pool x share / yield, and for labour + its finishing

Under equal margins (constant_margin) the finishing joins the labour pool, and a kg costs pool x value / sum. A
by-product costs its credit value. What is worth nothing to share on costs its finishing only.
"""

from fractions import Fraction

from service.domain.breakdown import Breakdown, Method, Output, Role
from service.domain.findings import Gap
from service.domain.network import NIL
from service.domain.uses import used_by_input
from service.domain.working import How, Operation, Part, RecordUsed, StepKey
from service.domain.working_book import LABOUR, MATERIAL, WorkingBook, called
from service.domain.working_of_prices import unit_parts
from service.domain.working_of_shares import (
    carriers_of,
    shared_on_nothing,
    write_finishing,
    write_share,
    write_total,
    write_value,
)
from service.domain.working_of_yields import write_yield

PER_KG_OF_INPUT = "kg of input"


def write_pools(book: WorkingBook, code: str) -> None:
    """What is to be shared, per kg of input: material, and labour where there is any."""
    breakdown = book.kitchen.breakdowns[code]
    record = book.records.kept("breakdown", code)
    _write_material_pool(book, breakdown, record)
    if book.costs_labour(("breakdown", code)):
        _write_labour_pool(book, breakdown, record)


def write_cut(book: WorkingBook, code: str, tell_all: bool = False) -> None:
    """What a kg of the cut costs, in both channels; no labour where it costs none, unless all is to be told."""
    breakdown, output = book.made[code]
    tell_labour = tell_all or book.costs_labour(("cut", code))
    if output.role is Role.BY_PRODUCT:
        _write_by_product(book, breakdown, output, tell_labour)
        return
    gaps = _gaps_of_sharing(book, breakdown, output)
    for channel in (MATERIAL, LABOUR) if tell_labour else (MATERIAL,):
        _write_carrier(book, breakdown, output, channel, gaps)


def _write_material_pool(book: WorkingBook, breakdown: Breakdown, record: RecordUsed) -> None:
    parts = [*_input_parts(book, breakdown, MATERIAL, record)]
    if breakdown.packaging_per_kg:
        parts.append(Part("packaging", Fraction(breakdown.packaging_per_kg), How.ADD,
                          book.money_per(PER_KG_OF_INPUT)))
    for output in breakdown.outputs:
        if output.role is Role.LOSS and output.disposal_cost:
            parts.append(_charge(book, breakdown, output, "disposal", Fraction(output.disposal_cost), How.ADD, record))
        elif output.role is Role.BY_PRODUCT and output.credit_value != 0:
            value = None if output.credit_value is None else Fraction(output.credit_value)
            if value is not None or book.yields(breakdown).fractions[output.cut]:
                parts.append(_charge(book, breakdown, output, "credit", value, How.SUBTRACT, record))
    told = book.told(part.step for part in parts if part.step is not None)
    told |= book.told(child for part in parts if part.step is not None for child in book.steps[part.step].children)
    gaps = [gap for gap in book.own_gaps(("breakdown", breakdown.code), MATERIAL) if gap not in told]
    book.steps.add((MATERIAL, "breakdown", breakdown.code), f"{breakdown.name}: material to share", record,
                   "input + packaging + disposal of losses - credits of by-products, per kg of input", Operation.SUM,
                   parts, book.money_per(PER_KG_OF_INPUT), gaps)


def _write_labour_pool(book: WorkingBook, breakdown: Breakdown, record: RecordUsed) -> None:
    used = used_by_input(breakdown.input)
    parts = _input_parts(book, breakdown, LABOUR, record) if book.costs_labour(used) else []
    if breakdown.labour_minutes_per_kg:
        parts.append(book.steps.part(book.labour(
            ("own labour", "breakdown", breakdown.code), f"{breakdown.name}: labour at the block",
            Fraction(breakdown.labour_minutes_per_kg), f" per {PER_KG_OF_INPUT}", record), How.ADD))
    below = [part.step for part in parts if part.step is not None]
    told = book.told([*below, *(child for step in below for child in book.steps[step].children)])
    gaps = [gap for gap in book.own_gaps(("breakdown", breakdown.code), LABOUR) if gap not in told]
    book.steps.add((LABOUR, "breakdown", breakdown.code), f"{breakdown.name}: labour to share", record,
                   "labour of the input + labour at the block, per kg of input", Operation.SUM, parts,
                   book.money_per(PER_KG_OF_INPUT), gaps)


def _input_parts(book: WorkingBook, breakdown: Breakdown, channel: str, record: RecordUsed) -> list[Part]:
    """A kg of the input; what is bought by the litre or the piece is first weighed."""
    used = used_by_input(breakdown.input)
    cost = book.cost_part(used, channel, How.ADD)
    in_units = unit_parts(book, used, "kg", How.MULTIPLY) if used[0] == "ingredient" else []
    if not in_units:
        return [cost]
    key = ("input", channel, breakdown.code)
    book.steps.add(key, f"{book.name(used)}: {channel} of a kg", record,
                   f"{book.unit_of(used)} in one kg x {channel} per {book.unit_of(used)}", Operation.PRODUCT,
                   [*in_units, book.cost_part(used, channel, How.MULTIPLY)], book.money_per("kg"))
    return [book.steps.part(key, How.ADD)]


def _charge(book: WorkingBook, breakdown: Breakdown, output: Output, what: str, value: Fraction | None, how: How,
            record: RecordUsed) -> Part:
    """A disposal cost or a credit, per kg of input: value x yield."""
    key = (what, breakdown.code, output.cut)
    gaps = [gap for gap in book.own_gaps(("breakdown", breakdown.code), MATERIAL)
            if value is None and (gap.kind, gap.record, gap.code) == ("cut", output.cut, "missing_value")]
    parts = [Part(f"{what} per kg", value, How.MULTIPLY, book.money_per("kg")),
             book.steps.part(write_yield(book, breakdown, output), How.MULTIPLY)]
    book.steps.add(key, f"{called(output)}: {what}", record, f"{what} per kg x yield", Operation.PRODUCT,
                   parts, book.money_per(PER_KG_OF_INPUT), gaps)
    return book.steps.part(key, how)


def _write_by_product(book: WorkingBook, breakdown: Breakdown, output: Output, tell_labour: bool) -> None:
    record = book.records.kept("breakdown", breakdown.code)
    value = None if output.credit_value is None else Fraction(output.credit_value)
    book.steps.add((MATERIAL, "cut", output.cut), f"{called(output)}: material per kg", record,
                   "a by-product costs its credit value", Operation.GIVEN,
                   [Part("credit per kg", value, How.TAKE, book.money_per("kg"))], book.money_per("kg"),
                   book.own_gaps(("cut", output.cut), MATERIAL))
    if tell_labour:
        _write_nothing(book, output, LABOUR, record, "a by-product carries no labour")


def _write_nothing(book: WorkingBook, output: Output, channel: str, record: RecordUsed, formula: str) -> None:
    book.steps.add((channel, "cut", output.cut), f"{called(output)}: {channel} per kg", record, formula,
                   Operation.GIVEN, [Part(channel, NIL, How.TAKE, book.money_per("kg"))], book.money_per("kg"))


def _gaps_of_sharing(book: WorkingBook, breakdown: Breakdown, output: Output) -> list[Gap]:
    """Write what the cost is shared on; what the cut lacks and no step of it tells, its own steps have to tell."""
    shared = book.own_gaps(("cut", output.cut), MATERIAL)
    total = write_total(book, breakdown, shared)
    bases = book.steps[total].children
    told = book.told([total, *bases, *(child for base in bases for child in book.steps[base].children)])
    return [gap for gap in shared if gap not in told]


def _write_carrier(book: WorkingBook, breakdown: Breakdown, output: Output, channel: str, gaps: list[Gap]) -> None:
    record = book.records.kept("breakdown", breakdown.code)
    name, per = called(output), book.money_per("kg")
    finishing = Part("finishing", Fraction(output.finishing_cost), How.ADD, per)
    pool_gaps = [gap for gap in book.costing.gaps(("cut", output.cut)) if gap.code == "credits_exceed_cost"
                 and gap.record == breakdown.code]
    if shared_on_nothing(book, breakdown, output):
        if channel == MATERIAL:
            _write_nothing(book, output, channel, record, "worth nothing to share on: it carries none of the cost")
            return
        book.steps.add((LABOUR, "cut", output.cut), f"{name}: labour per kg", record,
                       "worth nothing to share on: its finishing only", Operation.SUM, [finishing], per)
        return
    before = _carried(book, breakdown, output, channel, gaps, pool_gaps)
    if channel == MATERIAL or _finishing_is_in(breakdown) or not output.finishing_cost:
        return
    book.steps.add((LABOUR, "cut", output.cut), f"{name}: labour per kg", record, "labour carried + finishing",
                   Operation.SUM, [book.steps.part(before, How.ADD), finishing], per)


def _finishing_is_in(breakdown: Breakdown) -> bool:
    """Under equal margins the finishing is part of what is spread, unless one output carries all."""
    return breakdown.method is Method.CONSTANT_MARGIN and len(carriers_of(breakdown)) > 1


def _carried(book: WorkingBook, breakdown: Breakdown, output: Output, channel: str, gaps: list[Gap],
             pool_gaps: list[Gap]) -> StepKey:
    """The part of the pool that a kg of the cut carries."""
    record = book.records.kept("breakdown", breakdown.code)
    name, per = called(output), book.money_per("kg")
    pool = book.cost_part(("breakdown", breakdown.code), channel, How.MULTIPLY)
    finished = channel == MATERIAL or _finishing_is_in(breakdown) or not output.finishing_cost
    key = (channel, "cut", output.cut) if finished else ("carried", LABOUR, output.cut)
    what = f"{name}: {channel} per kg" if finished else f"{name}: labour carried per kg"
    if _finishing_is_in(breakdown):
        if channel == LABOUR:
            pool = book.steps.part(write_finishing(book, breakdown), How.MULTIPLY)
        parts = [pool, write_value(book, breakdown, output, (), How.MULTIPLY),
                 book.steps.part(write_total(book, breakdown, ()), How.DIVIDE)]
        formula = f"{channel} to share x value / sum of value x yield"
        pool_gaps = [*gaps, *pool_gaps]
    else:
        parts = [pool, book.steps.part(write_share(book, breakdown, output, gaps), How.MULTIPLY),
                 book.steps.part(write_yield(book, breakdown, output), How.DIVIDE)]
        formula = f"{channel} to share x share / yield"
    return book.steps.add(key, what, record, formula, Operation.PRODUCT, parts, per, pool_gaps)
