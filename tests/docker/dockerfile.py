"""The Dockerfile as a list of stages, each with its instructions, read by a library."""

import json
import shlex
import string
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from dockerfile_parse import DockerfileParser

TOP = Path(__file__).resolve().parents[2]
DOCKERFILE = TOP / "docker" / "Dockerfile"


@dataclass
class Stage:
    """A stage: what it begins from, its name or number, and its instructions as pairs of word and value."""

    base: str
    name: str
    steps: list[tuple[str, str]] = field(default_factory=list)

    def last(self, word: str) -> str:
        """The value of the last instruction of that word."""
        return [value for said, value in self.steps if said == word][-1]

    def words(self, word: str) -> list[str]:
        """The same, in the form of a JSON list."""
        listed: list[str] = json.loads(self.last(word))
        return listed


def stages(path: Path = DOCKERFILE) -> list[Stage]:
    """All stages, in order."""
    found: list[Stage] = []
    for each in DockerfileParser(str(path)).structure:
        word, value = each["instruction"], each["value"]
        if word == "FROM":
            base, _, name = value.partition(" AS ")
            found.append(Stage(base, name or str(len(found))))
        elif word != "COMMENT":
            found[-1].steps.append((word, value))
    return found


def healthcheck(stage: Stage) -> list[str]:
    """The command of HEALTHCHECK, in its exec form."""
    command: list[str] = json.loads(stage.last("HEALTHCHECK").partition("CMD ")[2])
    return command


def pairs(value: str, environment: Mapping[str, str]) -> dict[str, str]:
    """What ENV or LABEL sets, with the variables of `environment` filled in."""
    words = (word.partition("=") for word in shlex.split(value))
    return {name: string.Template(said).substitute(environment) for name, _, said in words}
