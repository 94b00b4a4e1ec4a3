"""The working of shares: what each main and trim output is shared on, by the breakdown's method, and its part of it.

    weight                  its yield
    market_value            value as it leaves the knife x yield; the finished value less finishing unless given
    net_realisable_value    (value - finishing) x yield
    constant_margin         value x yield
    relative_value          the kitchen's own value x yield

A value below zero counts as nil. One output that carries all needs no value: its share is 1.
"""

from collections.abc import Sequence
from fractions import Fraction

from service.domain.allocation import RULES, Carrier, carrier_of
from service.domain.breakdown import Breakdown, Method, Output
from service.domain.findings import Gap
from service.domain.network import NIL, ONE
from service.domain.working import How, Operation, Part, RecordUsed, StepKey
from service.domain.working_book import LABOUR, WorkingBook, called
from service.domain.working_of_yields import write_yield

_VALUE_NAMES = {Method.MARKET_VALUE: "value as it leaves the knife", Method.NET_REALISABLE_VALUE: "market value",
                Method.CONSTANT_MARGIN: "market value", Method.RELATIVE_VALUE: "relative value"}


def carriers_of(breakdown: Breakdown) -> tuple[Output, ...]:
    """The outputs that carry the joint cost."""
    return tuple(output for output in breakdown.outputs if output.role.carries_joint_cost)


def shared_on_nothing(book: WorkingBook, breakdown: Breakdown, output: Output) -> bool:
    """Whether the cost of others is shared and this output, which weighs something, is worth nothing to share on."""
    carriers = [_carrier(book, breakdown, other) for other in carriers_of(breakdown)]
    values = [RULES[breakdown.method](carrier) for carrier in carriers]
    if len(carriers) == 1 or any(value is None for value in values):
        return False
    total = sum((max(value or NIL, NIL) * carrier.yield_fraction
                 for value, carrier in zip(values, carriers, strict=True)), NIL)
    own = _carrier(book, breakdown, output)
    return total > 0 and own.yield_fraction > 0 and (RULES[breakdown.method](own) or NIL) <= 0


def write_value(book: WorkingBook, breakdown: Breakdown, output: Output, gaps: Sequence[Gap], how: How) -> Part:
    """What a kg of the output is shared on, never below nil: a recorded value, or a step that makes one of two."""
    carrier = _carrier(book, breakdown, output)
    value = RULES[breakdown.method](carrier)
    name, unit = _VALUE_NAMES[breakdown.method], _unit_of_value(book, breakdown)
    record = book.records.kept("breakdown", breakdown.code)
    missing = [gap for gap in gaps if gap.code == "missing_value" and gap.record == output.cut]
    key = ("value", breakdown.code, output.cut)
    if key in book.steps:
        return book.steps.part(_not_below_nil(book, key, output, record, unit), how)
    if _is_less_finishing(breakdown, carrier):
        parts = [Part("market value", carrier.market_value, How.ADD, unit),
                 Part("finishing", carrier.finishing_cost, How.SUBTRACT, unit)]
        book.steps.add(key, f"{called(output)}: {_less(breakdown)}", record, "market value - finishing",
                       Operation.SUM, parts, unit, missing)
    elif value is None:
        book.steps.add(key, f"{called(output)}: {name}", record, "as recorded", Operation.GIVEN,
                       [Part(name, None, How.TAKE, unit)], unit, missing)
    else:
        return Part(name, value, how, unit)
    return book.steps.part(_not_below_nil(book, key, output, record, unit), how)


def write_total(book: WorkingBook, breakdown: Breakdown, gaps: Sequence[Gap]) -> StepKey:
    """The sum, over all that carry the cost, of what each is shared on."""
    key = ("shared on", breakdown.code)
    if key in book.steps:
        return key
    carriers = carriers_of(breakdown)
    parts = [book.steps.part(_write_base(book, breakdown, output, gaps), How.ADD)
             for output in carriers] if len(carriers) > 1 else []
    nothing = [gap for gap in gaps if gap.code == "nothing_carries_the_cost"]
    by_weight = breakdown.method is Method.WEIGHT
    return book.steps.add(key, f"{breakdown.name}: what the cost is shared on, in all",
                          book.records.kept("breakdown", breakdown.code),
                          "sum of the yields of main and trim" if by_weight else
                          "sum of value x yield over main and trim", Operation.SUM, parts,
                          "kg per kg of input" if by_weight else "", nothing)


def write_share(book: WorkingBook, breakdown: Breakdown, output: Output, gaps: Sequence[Gap]) -> StepKey:
    """The output's part of the pools: all of them where nothing else carries."""
    key = ("share", breakdown.code, output.cut)
    if key in book.steps:
        return key
    record, what = book.records.kept("breakdown", breakdown.code), f"{called(output)}: share of joint cost"
    if len(carriers_of(breakdown)) == 1:
        return book.steps.add(key, what, record, "the only output that carries the cost", Operation.GIVEN,
                              [Part("share", ONE, How.TAKE)], gaps=gaps)
    total = write_total(book, breakdown, gaps)
    base = _write_base(book, breakdown, output, gaps)
    return book.steps.add(key, what, record, f"by {breakdown.method.value.replace('_', ' ')}: its part of the sum",
                          Operation.PRODUCT, [book.steps.part(base, How.MULTIPLY), book.steps.part(total, How.DIVIDE)],
                          gaps=gaps)


def write_finishing(book: WorkingBook, breakdown: Breakdown) -> StepKey:
    """Under equal margins: the labour to share with the finishing of all that is worth something."""
    key = ("labour with finishing", breakdown.code)
    if key in book.steps:
        return key
    record, per = book.records.kept("breakdown", breakdown.code), book.money_per("kg of input")
    parts = [book.cost_part(("breakdown", breakdown.code), LABOUR, How.ADD)]
    for output in carriers_of(breakdown):
        if output.finishing_cost and (output.market_value or 0) > 0:
            step = book.steps.add(("finishing", breakdown.code, output.cut), f"{called(output)}: finishing",
                                  record, "finishing per kg x yield", Operation.PRODUCT, [
                Part("finishing per kg", Fraction(output.finishing_cost), How.MULTIPLY, book.money_per("kg")),
                book.steps.part(write_yield(book, breakdown, output), How.MULTIPLY)], per)
            parts.append(book.steps.part(step, How.ADD))
    return book.steps.add(key, f"{breakdown.name}: labour to share, finishing included", record,
                          "labour to share + finishing of the outputs", Operation.SUM, parts, per)


def _write_base(book: WorkingBook, breakdown: Breakdown, output: Output, gaps: Sequence[Gap]) -> StepKey:
    weight = write_yield(book, breakdown, output)
    if breakdown.method is Method.WEIGHT:
        return weight
    key = ("base", breakdown.code, output.cut)
    if key in book.steps:
        return key
    parts = [write_value(book, breakdown, output, gaps, How.MULTIPLY), book.steps.part(weight, How.MULTIPLY)]
    return book.steps.add(key, f"{called(output)}: shared on", book.records.kept("breakdown", breakdown.code),
                          "value x yield", Operation.PRODUCT, parts)


def _carrier(book: WorkingBook, breakdown: Breakdown, output: Output) -> Carrier:
    return carrier_of(output, book.yields(breakdown).fractions[output.cut])


def _is_less_finishing(breakdown: Breakdown, carrier: Carrier) -> bool:
    if carrier.market_value is None:
        return False
    if breakdown.method is Method.NET_REALISABLE_VALUE:
        return carrier.finishing_cost != 0
    return (breakdown.method is Method.MARKET_VALUE and carrier.split_off_value is None
            and carrier.finishing_cost != 0)


def _less(breakdown: Breakdown) -> str:
    return ("net realisable value" if breakdown.method is Method.NET_REALISABLE_VALUE
            else _VALUE_NAMES[Method.MARKET_VALUE])


def _unit_of_value(book: WorkingBook, breakdown: Breakdown) -> str:
    return "" if breakdown.method is Method.RELATIVE_VALUE else book.money_per("kg")


def _not_below_nil(book: WorkingBook, key: StepKey, output: Output, record: RecordUsed, unit: str) -> StepKey:
    """A value of nil or less is nil to share on; only one below it needs the step that says so."""
    value, kept = book.steps[key].outcome, (*key, "not below nil")
    if value is None or value >= 0:
        return key
    return kept if kept in book.steps else book.steps.add(
        kept, f"{called(output)}: nothing to share on", record, "a value below zero counts as nil",
        Operation.NOT_BELOW_ZERO, [book.steps.part(key, How.TAKE)], unit)
