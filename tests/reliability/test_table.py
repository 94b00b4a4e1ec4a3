"""The table of the breaking programme in DEVELOPERS.md, the parts that there are, and the tests it names agree."""

import re
from pathlib import Path

import pytest

from tests.reliability.every_programme import PROGRAMMES
from tests.reliability.sabotage import SWITCHES

TOP = Path(__file__).parents[2]
ROWS = [f"T{number:02}" for number in range(1, 36)]
NAMED = re.compile(r"`(tests/[\w/]+\.py)(?:::(\w+))?`")
WORD = re.compile(r"`(\w+)`")
COMMAND = re.compile(r"`python -m tests\.reliability (\w+)[^`]*`")


def table_of(text: str) -> dict[str, str]:
    """The lines of the table by row; a row that is there twice is a fault."""
    section = text.partition("\n## The breaking programme\n")[2].partition("\n## ")[0]
    lines = [(found[1], line) for line in section.splitlines() if (found := re.match(r"\| (T\d\d) \|", line))]
    assert [row for row, _ in lines] == ROWS
    return dict(lines)


def missing_tests(lines: list[str]) -> list[str]:
    """What is named and is not there."""
    return [f"{path}::{name}" for line in lines for path, name in NAMED.findall(line)
            if not (TOP / path).is_file() or (name and f"def {name}(" not in (TOP / path).read_text())]


TABLE = table_of((TOP / "DEVELOPERS.md").read_text())


def test_every_row_names_what_tests_it() -> None:
    for row, line in TABLE.items():
        assert line.count("|") == 5, f"{row} has four cells"
        assert all(cell.strip() for cell in line.split("|")[1:-1]), f"{row} has a cell that says nothing"


def test_the_tests_that_it_names_are_there() -> None:
    assert missing_tests(list(TABLE.values())) == []
    assert missing_tests(["| T01 | x | `tests/rest/test_examples.py::test_none_of_that_name` | y |"]) != []


def test_every_part_has_its_command_in_its_row_and_no_other_is_named() -> None:
    named = sorted((row, name) for row, line in TABLE.items() for name in set(COMMAND.findall(line)))
    assert named == sorted((each.row, each.name) for each in PROGRAMMES)


@pytest.mark.parametrize("programme", PROGRAMMES, ids=lambda each: each.name)
def test_every_part_has_a_short_form_that_its_row_names(programme) -> None:
    assert f"`tests/reliability/test_{programme.name}.py`" in TABLE[programme.row]
    assert programme.short > 0
    assert programme.long >= programme.short


def test_the_table_of_switches_says_which_parts_turn_red_for_each() -> None:
    section = (TOP / "DEVELOPERS.md").read_text().partition("| switch | what it breaks | red |")[2].partition("\n\n")[0]
    parts = {each.name: set(each.sabotages) & set(SWITCHES) for each in PROGRAMMES}
    said = {(switch, part) for line in section.splitlines() if (cells := line.split("|"))[2:]
            for switch in WORD.findall(cells[1]) for part in WORD.findall(cells[3]) if part in parts}
    assert said == {(switch, part) for part, switches in parts.items() for switch in switches}
