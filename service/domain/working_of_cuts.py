"""The working of a cut's published figures, once what it costs is written.

    yield of ingredient  = the yields down the chain, multiplied
    cost factor          = material per kg / price per kg of the ingredient at the start of the chain
    share of joint cost  = by the method; under equal margins (cost per kg - finishing) x yield / joint cost
    cost of a portion    = cost per kg x raw portion weight
"""

from collections.abc import Iterator
from fractions import Fraction

from service.domain.breakdown import Breakdown, Method, Output, Role
from service.domain.rounding import SHARE_PLACES, UNIT_COST_PLACES
from service.domain.working import How, Operation, Part, RecordUsed, StepKey
from service.domain.working_book import LABOUR, MATERIAL, WorkingBook, called
from service.domain.working_of_prices import unit_parts
from service.domain.working_of_shares import carriers_of, write_share
from service.domain.working_of_yields import write_yield

Figure = tuple[str, StepKey]
Unrounded = Iterator[tuple[str, StepKey, int]]


def write_cut_figures(book: WorkingBook, code: str) -> list[Figure]:
    """The published figures of a cut whose costs are written, each with the step that rounds it."""
    breakdown, output = book.made[code]
    record = book.records.kept("breakdown", breakdown.code)
    figures = [*_costs(book, output, record), *_yields(book, breakdown, output)]
    if output.role is not Role.BY_PRODUCT:
        figures += [*_share(book, breakdown, output, record), *_factor(book, output)]
    return [(name, book.rounded(name, step, places, record)) for name, step, places in figures]


def _costs(book: WorkingBook, output: Output, record: RecordUsed) -> Unrounded:
    total = book.steps.add(("cost per kg", output.cut), f"{called(output)}: cost per kg", record,
                           "material + labour", Operation.SUM, [
        book.steps.part((MATERIAL, "cut", output.cut), How.ADD),
        book.steps.part((LABOUR, "cut", output.cut), How.ADD)], book.money_per("kg"))
    yield "material_cost_per_kg", (MATERIAL, "cut", output.cut), UNIT_COST_PLACES
    yield "labour_cost_per_kg", (LABOUR, "cut", output.cut), UNIT_COST_PLACES
    yield "cost_per_kg", total, UNIT_COST_PLACES
    if output.portion_weight_kg is not None:
        yield "cost_per_portion", book.steps.add(
            ("cost of a portion", output.cut), f"{called(output)}: cost of a raw portion", record,
            "cost per kg x portion weight", Operation.PRODUCT, [
                book.steps.part(total, How.MULTIPLY),
                Part("portion weight, raw", Fraction(output.portion_weight_kg), How.MULTIPLY, "kg")],
            book.money_per("portion")), UNIT_COST_PLACES


def _yields(book: WorkingBook, breakdown: Breakdown, output: Output) -> Unrounded:
    """The cut's own yield, and that of what was bought; the chain may break off at a cut that nothing makes."""
    yield "yield", write_yield(book, breakdown, output), SHARE_PLACES
    links = list(_links(book, output.cut))
    if links[-1][0].input.ingredient is None:
        return
    parts = [book.steps.part(write_yield(book, *link), How.MULTIPLY) for link in links]
    yield "yield_of_ingredient", book.steps.add(
        ("yield of ingredient", output.cut), f"{called(output)}: yield of what was bought",
        book.records.kept("breakdown", breakdown.code), "the yields down the chain, multiplied", Operation.PRODUCT,
        parts, "kg per kg bought"), SHARE_PLACES


def _links(book: WorkingBook, cut: str) -> Iterator[tuple[Breakdown, Output]]:
    seen: set[str] = set()
    while cut in book.made and cut not in seen:
        seen.add(cut)
        breakdown, output = book.made[cut]
        yield breakdown, output
        cut = breakdown.input.cut or ""


def _share(book: WorkingBook, breakdown: Breakdown, output: Output, record: RecordUsed) -> Unrounded:
    if breakdown.method is not Method.CONSTANT_MARGIN or len(carriers_of(breakdown)) == 1:
        yield "share_of_joint_cost", write_share(book, breakdown, output, ()), SHARE_PLACES
        return
    joint = book.steps.add(("joint cost", breakdown.code), f"{breakdown.name}: joint cost", record, "material + labour",
                           Operation.SUM, [book.cost_part(("breakdown", breakdown.code), channel, How.ADD)
                                           for channel in (MATERIAL, LABOUR)], book.money_per("kg of input"))
    if book.steps[joint].outcome == 0:
        return
    carried = book.steps.add(("carried by", output.cut), f"{called(output)}: cost before finishing", record,
                             "cost per kg - finishing", Operation.SUM, [
        book.steps.part(("cost per kg", output.cut), How.ADD),
        Part("finishing", Fraction(output.finishing_cost), How.SUBTRACT, book.money_per("kg"))], book.money_per("kg"))
    yield "share_of_joint_cost", book.steps.add(
        ("share", breakdown.code, output.cut), f"{called(output)}: share of joint cost", record,
        "cost before finishing x yield / joint cost", Operation.PRODUCT, [
            book.steps.part(carried, How.MULTIPLY),
            book.steps.part(write_yield(book, breakdown, output), How.MULTIPLY),
            book.steps.part(joint, How.DIVIDE)]), SHARE_PLACES


def _factor(book: WorkingBook, output: Output) -> Unrounded:
    """Over the price of a kg of what was bought; none without a price, or at a price of zero."""
    start = list(_links(book, output.cut))[-1][0].input.ingredient
    if start is None or start not in book.kitchen.ingredients:
        return
    price = book.steps.part((MATERIAL, "ingredient", start), How.DIVIDE)
    if price.value == 0:
        return
    in_one_kg = unit_parts(book, ("ingredient", start), "kg", How.DIVIDE)
    yield "cost_factor", book.steps.add(
        ("cost factor", output.cut), f"{called(output)}: cost factor",
        book.steps[MATERIAL, "ingredient", start].record,
        "material per kg / price per kg of what was bought", Operation.PRODUCT,
        [book.steps.part((MATERIAL, "cut", output.cut), How.MULTIPLY), price, *in_one_kg]), SHARE_PLACES

