"""What mutation testing is about: the parts of the service that are mutated, the tests that are held to notice, and the
mutants that live on, each with the reason why that is well.

A part is a file `NAME.toml` of this folder:

    title = "what it is"
    modules = ["service/domain/rounding.py"]
    tests = ["tests/domain/test_rounding.py"]

    [[survivors]]
    why = "a sentence: why no test can, or need, tell the mutant from the code"
    mutants = [{ in = "service.domain.rounding.text", was = "a line of it", became = "that line, mutated" }]

A mutant is named by the function it is in and the lines that it changes, not by its number: numbers move whenever the
function changes. `was` and `became` are the lines that `mutmut show` marks with - and +, any run of blanks being one.
"""

import ast
import tomllib
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

TOP = Path(__file__).parents[2]
FOLDER = Path(__file__).parent
LEAST_KILLED = 0.9
SHORTEST_REASON = 25


class Mutant(NamedTuple):
    """A mutation of one function: what its lines were, and what they became."""

    function: str
    was: str
    became: str

    def __str__(self) -> str:
        return f"{self.function}\n        - {self.was}\n        + {self.became}"


@dataclass(frozen=True)
class Part:
    """What is mutated together; `explained` are the mutants that may live, each with its reason."""

    name: str
    title: str
    modules: tuple[str, ...]
    tests: tuple[str, ...]
    explained: tuple[tuple[Mutant, str], ...] = ()


def as_one_line(text: str) -> str:
    """Any run of blanks and line ends as one blank."""
    return " ".join(text.split())


def every_part(folder: Path = FOLDER) -> list[Part]:
    """The parts that have a file, by name."""
    return [part_of(path.stem, path.read_text(encoding="utf-8")) for path in sorted(folder.glob("*.toml"))]


def part_of(name: str, text: str) -> Part:
    """The part that a file's text tells of."""
    told = tomllib.loads(text)
    explained = tuple((Mutant(each["in"], as_one_line(each["was"]), as_one_line(each["became"])), group["why"])
                      for group in told.get("survivors", ()) for each in group["mutants"])
    return Part(name, told["title"], tuple(told["modules"]), tuple(told["tests"]), explained)


def faults_of(part: Part, top: Path = TOP) -> list[str]:
    """What is wrong with a part as it is written: a file or a function that is not there, lines that the function does
    not have, a mutant told twice or without a reason."""
    missing = [f"{path} is not there" for path in (*part.modules, *part.tests) if not (top / path).is_file()]
    sources = {name: source for path in part.modules if (top / path).is_file()
               for name, source in _functions(top / path, path.removesuffix(".py").replace("/", "."))}
    twice = [f"told twice: {mutant}" for mutant, count in Counter(each for each, _ in part.explained).items()
             if count > 1]
    return missing + twice + [fault for mutant, why in part.explained for fault in _faults_of(mutant, why, sources)]


def _faults_of(mutant: Mutant, why: str, sources: dict[str, str]) -> list[str]:
    if mutant.function not in sources:
        return [f"none of the part's modules has the function {mutant.function}"]
    faults = []
    if not mutant.was or mutant.was not in sources[mutant.function]:
        faults.append(f"the function has no such line: {mutant}")
    if mutant.was == mutant.became:
        faults.append(f"nothing is changed: {mutant}")
    if len(why) < SHORTEST_REASON:
        faults.append(f"no reason is given: {mutant}")
    return faults


def _functions(path: Path, module: str) -> list[tuple[str, str]]:
    """Functions and methods of a module by their dotted names, each with its source as one line."""
    text = path.read_text(encoding="utf-8")
    bodies = [(module, node) for node in ast.parse(text).body]
    bodies += [(f"{module}.{node.name}", inner) for _, node in bodies if isinstance(node, ast.ClassDef)
               for inner in node.body]
    return [(f"{within}.{node.name}", as_one_line(ast.get_source_segment(text, node) or ""))
            for within, node in bodies if isinstance(node, ast.FunctionDef)]
