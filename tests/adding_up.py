"""Adds a working up again from its document alone, as a reader with a calculator would.

It knows the six operations from their description and nothing of the code that wrote the working.
"""

from fractions import Fraction
from math import ceil, floor
from typing import Any

Document = dict[str, Any]
CLOSE = Fraction(1, 10**10)


def every_step(document: Document) -> list[Document]:
    return [step for figure in document["figures"] for step in figure["steps"]]


def again(step: Document) -> Fraction | None:
    """What the step comes to, from its numbers as carried; None when one of them is not known."""
    if step["gaps"] or any(part["carried"] is None for part in step["in"]):
        return None
    numbers = [(part["how"], Fraction(part["carried"])) for part in step["in"]]
    match step["operation"]:
        case "given":
            return numbers[0][1]
        case "sum":
            return sum(({"add": 1, "subtract": -1}[how] * number for how, number in numbers), Fraction(0))
        case "product":
            outcome = Fraction(1)
            for how, number in numbers:
                outcome = {"multiply": outcome * number, "divide": number and outcome / number}[how]
            return outcome
        case "not_below_zero":
            return max(numbers[0][1], Fraction(0))
        case "round":
            scaled = numbers[0][1] * 10**int(numbers[1][1])
            whole = floor(abs(scaled) + Fraction(1, 2))
            return Fraction(whole if scaled >= 0 else -whole, 10**int(numbers[1][1]))
        case "round_up":
            return ceil(numbers[0][1] / numbers[1][1]) * numbers[1][1]
    raise LookupError(step["operation"])


def faults_of(document: Document) -> list[str]:
    """Every way in which the working does not add up; empty for one that does."""
    faults = []
    told: dict[int, Document] = {}
    for step in every_step(document):
        value, outcome = step["out"]["value"], again(step)
        if (value is None) != (outcome is None):
            faults.append(f"step {step['step']} is {value} and comes to {outcome}")
        elif value is not None and outcome is not None and abs(Fraction(value) - outcome) > CLOSE:
            faults.append(f"step {step['step']} is {value} and comes to {float(outcome)}")
        for part in step["in"]:
            source = part["from_step"]
            if source is not None and (source not in told or told[source]["out"]["carried"] != part["carried"]):
                faults.append(f"step {step['step']} takes {part['name']} from {source}, which does not give it")
        told[step["step"]] = step
    return faults
