"""The working as a sheet on paper: indented, numbers aligned, in the words of the kitchen.

Each published figure has a heading; below it every step with its outcome, its formula in words, the record it is from,
and its numbers in, one a line with what is done with them. What a step rests on stands indented below it; what has been
told already is not told again. Nothing recurses.
"""

from collections.abc import Iterator, Mapping

from service.domain.working import How, Part, RecordUsed, Step, StepKey, carried, shown
from service.domain.working_tree import ExplainedFigure, Explanation

INDENT = "    "
DEEPEST_INDENT = 30
"""Deeper steps stand as far in as these: the numbers of the steps still say what rests on what."""
UNKNOWN = "not known"
_SIGNS: Mapping[How, str] = {How.ADD: "+", How.SUBTRACT: "-", How.MULTIPLY: "x", How.DIVIDE: "/", How.TAKE: " ",
                             How.BY: "by"}


def as_text(explanation: Explanation) -> str:
    """The sheet, a line for every number. Example: `    x       1.02    1 + allowance of 2 %`."""
    return "\n".join(_lines(explanation)) + "\n"


def _lines(explanation: Explanation) -> Iterator[str]:
    title = f"{explanation.name} ({explanation.kind} {explanation.code})"
    yield from (title, "=" * len(title))
    yield (f"Working as of {explanation.day.isoformat()}, as known at revision {explanation.revision}. "
           f"Amounts in {explanation.currency}, numbers to 10 decimals.")
    yield "As purchased is what goes into the pot; edible portion is what is left after preparation and cooking."
    numbers = explanation.numbers
    steps = {step.key: step for step in explanation.steps}
    told: set[StepKey] = set()
    for figure in explanation.figures:
        yield ""
        yield from _heading(figure)
        yield from _figure(figure.last, steps, numbers, told)


def _heading(figure: ExplainedFigure) -> Iterator[str]:
    words = f"{figure.name.replace('_', ' ').upper()}: {figure.published or UNKNOWN}"
    yield words
    yield "-" * len(words)


def _figure(last: Step, steps: Mapping[StepKey, Step], numbers: Mapping[StepKey, int], told: set[StepKey]
            ) -> Iterator[str]:
    """The step and all below it that is not told yet, each with how deep it stands."""
    waiting = [(last.key, 0)]
    while waiting:
        key, depth = waiting.pop()
        if key in told:
            continue
        told.add(key)
        for line in _step(steps[key], numbers, told):
            yield f"{INDENT * min(depth, DEEPEST_INDENT)}{line}".rstrip()
        waiting.extend((child, depth + 1) for child in reversed(steps[key].children))


def _step(step: Step, numbers: Mapping[StepKey, int], told: set[StepKey]) -> Iterator[str]:
    outcome = shown(step.outcome, step.places) or UNKNOWN
    yield f"[{numbers[step.key]}] {step.what} = {outcome} {step.unit}"
    yield f"    {step.formula}; {_record(step.record)}"
    if step.note:
        yield f"    Note: {step.note}."
    for gap in step.gaps:
        yield f"    Not known: {gap.detail}"
    columns = [_number(part) for part in step.parts]
    before = max((len(whole) for whole, _ in columns), default=0)
    after = max((len(rest) for _, rest in columns), default=0)
    for place, (part, (whole, rest)) in enumerate(zip(step.parts, columns, strict=True)):
        sign = " " if place == 0 and part.how in (How.ADD, How.MULTIPLY) else _SIGNS[part.how]
        unit = f", {part.unit}" if part.unit else ""
        yield f"    {sign:>2} {whole:>{before}}{rest:<{after}}  {part.name}{unit}{_from(part, numbers, told)}"


def _number(part: Part) -> tuple[str, str]:
    """What stands before and from the decimal point, so that numbers line up on it."""
    if part.value is None:
        return UNKNOWN, ""
    whole, point, rest = (carried(part.value, 10) or "").partition(".")
    return whole, point + rest


def _from(part: Part, numbers: Mapping[StepKey, int], told: set[StepKey]) -> str:
    if part.step is None:
        return ""
    return f"  [{numbers[part.step]}{', above' if part.step in told else ''}]"


def _record(record: RecordUsed) -> str:
    """The record in words, and the revision that made the version it rests on."""
    more = record.more
    revision = "the defaults, none recorded" if record.revision is None else f"revision {record.revision}"
    start = f", in force from {record.effective_from.isoformat()}" if record.effective_from is not None else ""
    if record.kind == "settings":
        return f"settings, {revision}{start}"
    if record.kind == "price":
        end = f" to {more['effective_to']}" if more["effective_to"] else ""
        reference = f", {more['reference']}" if more["reference"] else ""
        return f"price {more['price']} of {more['supplier_name']}{start}{end}{reference}, {revision}"
    if record.kind == "yield_tests":
        tests = ", ".join(test["test"] for test in more["tests"])
        return f"yield tests {tests} of {record.name}, {revision}"
    return f"{record.kind} {record.code}, {revision}{start}"

