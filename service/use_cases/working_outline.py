"""The working of a figure as an outline to read: each step holds the steps that its numbers come from.

Rules that always hold: a step is told once, as near to the top as it is used, and referred to elsewhere; what lies
deeper than a page can hold, or comes after too many steps, is left to the whole working.
"""

from service.domain.working import How, Part, RecordUsed, Step, StepKey, carried
from service.domain.working_tree import ExplainedFigure, Explanation
from service.use_cases.documents import Document

MOST_STEPS, DEEPEST = 600, 40
PLACES = 6
_SIGNS = {How.ADD: "+", How.SUBTRACT: "–", How.MULTIPLY: "×", How.DIVIDE: "÷", How.TAKE: "", How.BY: "by"}


def working_outline(explanation: Explanation) -> list[Document]:
    """The published figures in order, each with its outermost step; `see` is the number of a step told elsewhere."""
    return _Outline(explanation).figures()


class _Outline:
    """Puts steps into one another; nothing recurses, however deep a recipe nests."""

    def __init__(self, explanation: Explanation) -> None:
        self._explanation = explanation
        self._steps = {step.key: step for step in explanation.steps}
        self._numbers = explanation.numbers
        self._told: set[StepKey] = set()

    def figures(self) -> list[Document]:
        return [self._figure(figure) for figure in self._explanation.figures]

    def _figure(self, figure: ExplainedFigure) -> Document:
        root = figure.last.parts[0].step
        told = root is not None and root not in self._told
        return {"figure": figure.name, "published": figure.published, "unit": figure.last.unit,
                "formula": figure.last.formula, "gaps": [gap.detail for gap in figure.last.gaps],
                "step": self._tree(root) if told and root is not None else None,
                "see": None if told or root is None else self._numbers[root]}

    def _tree(self, root: StepKey) -> Document:
        self._told.add(root)
        top = self._step(self._steps[root])
        waiting = [(top, self._steps[root], 1)]
        while waiting:
            document, step, depth = waiting.pop(0)
            for place, part in enumerate(step.parts):
                below = document["parts"][place]
                if part.step is None or part.step not in self._steps:
                    continue
                if part.step in self._told or depth >= DEEPEST or len(self._told) >= MOST_STEPS:
                    below["see"] = self._numbers[part.step] if part.step in self._told else None
                    continue
                self._told.add(part.step)
                below["step"] = self._step(self._steps[part.step])
                waiting.append((below["step"], self._steps[part.step], depth + 1))
        return top

    def _step(self, step: Step) -> Document:
        return {"number": self._numbers[step.key], "what": step.what, "value": carried(step.outcome, PLACES),
                "unit": step.unit, "formula": step.formula, "record": _record(step.record), "note": step.note,
                "gaps": [gap.detail for gap in step.gaps],
                "parts": [_part(part, is_first=place == 0) for place, part in enumerate(step.parts)]}


def _part(part: Part, is_first: bool) -> Document:
    bare = is_first and part.how in (How.ADD, How.MULTIPLY)
    return {"sign": "" if bare else _SIGNS[part.how], "name": part.name, "value": carried(part.value, PLACES),
            "unit": part.unit, "step": None, "see": None}


def _record(record: RecordUsed) -> str:
    """From which record a step is, short: a price with its supplier and period, whatever else with its revision."""
    more, start = record.more, record.effective_from
    since = "" if start is None else f" from {start.isoformat()}"
    if record.kind == "price":
        until = f" to {more['effective_to']}" if more["effective_to"] else ""
        reference = f", {more['reference']}" if more["reference"] else ""
        return f"price of {more['supplier_name']}{since}{until}{reference}"
    if record.kind == "settings":
        return f"settings{since}"
    kind = "yield tests of" if record.kind == "yield_tests" else record.kind
    return f"{kind} {record.name}{since}" + ("" if record.revision is None else f", revision {record.revision}")
