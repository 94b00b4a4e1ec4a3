"""A working as a whole: the published figures, each with the steps that lead to it.

The tree is kept flat: each figure lists its steps, every one after those it rests on and the rounding last; a step that
an earlier figure has told already is referred to and not told again.
"""

from dataclasses import dataclass
from datetime import date
from typing import Any

from service.domain.findings import Gap
from service.domain.working import Part, RecordUsed, Step, StepKey, carried, shown


@dataclass(frozen=True, slots=True)
class ExplainedFigure:
    """A published figure and the steps that no earlier figure has told; each follows what it rests on."""

    name: str
    steps: tuple[Step, ...]

    @property
    def last(self) -> Step:
        """The step that rounds: its outcome is the published figure."""
        return self.steps[-1]

    @property
    def published(self) -> str | None:
        return shown(self.last.outcome, self.last.places)


@dataclass(frozen=True, slots=True)
class Explanation:
    """The working of all published figures of a dish, cut or recipe.

    Shape:   `numbers` gives each step its number, from 1 in the order told; `decimals` is to how many its numbers are
             carried so that every step adds up again to within 1e-10.
    """

    kind: str
    code: str
    name: str
    day: date
    revision: int
    currency: str
    figures: tuple[ExplainedFigure, ...]
    decimals: int

    @property
    def steps(self) -> tuple[Step, ...]:
        """All steps in the order told."""
        return tuple(step for figure in self.figures for step in figure.steps)

    @property
    def numbers(self) -> dict[StepKey, int]:
        return {step.key: number for number, step in enumerate(self.steps, 1)}

    def as_document(self) -> dict[str, Any]:
        """The working ready for JSON.

        Shape:   every number twice: `value` to 10 decimals (a published figure to its own), `carried` to as many as
                 every step needs to add up again, without zeros at its end; None where it is not known. `from_step` is
                 the number of the step that a number in comes from.
        """
        numbers = self.numbers
        return {
            "kind": self.kind, "code": self.code, "name": self.name, "as_of": self.day.isoformat(),
            "revision": self.revision, "currency": self.currency, "decimals_carried": self.decimals,
            "figures": [{"figure": figure.name, "published": figure.published,
                         "steps": [self._step(step, numbers) for step in figure.steps]} for figure in self.figures],
        }

    def _step(self, step: Step, numbers: dict[StepKey, int]) -> dict[str, Any]:
        return {
            "step": numbers[step.key], "what": step.what, "record": _record(step.record), "formula": step.formula,
            "operation": step.operation.value,
            "in": [self._part(part, numbers) for part in step.parts],
            "out": {"value": shown(step.outcome, step.places), "carried": carried(step.outcome, self.decimals),
                    "unit": step.unit},
            "gaps": [_gap(gap) for gap in step.gaps], "note": step.note,
        }

    def _part(self, part: Part, numbers: dict[StepKey, int]) -> dict[str, Any]:
        return {"name": part.name, "how": part.how.value, "value": shown(part.value),
                "carried": carried(part.value, self.decimals), "unit": part.unit,
                "from_step": None if part.step is None else numbers[part.step]}


def _record(record: RecordUsed) -> dict[str, Any]:
    start = None if record.effective_from is None else record.effective_from.isoformat()
    return {"kind": record.kind, "code": record.code, "name": record.name, "revision": record.revision,
            "effective_from": start} | dict(record.more)


def _gap(gap: Gap) -> dict[str, Any]:
    return {"code": gap.code, "kind": gap.kind, "record": gap.record, "detail": gap.detail} | dict(gap.more)
