"""The threat model in DEVELOPERS.md: every threat has a defence and a test that is there; every API category has one.

Source: OWASP API Security Top 10 2023 (its ten categories).
"""

import re

import pytest

from tests.architecture.source_tree import TOP

NAMED = re.compile(r"`(tests/[\w/]+\.py)(?:::(\w+))?`")
PLACED = re.compile(r"`((?:rest|cli|domain|use_cases|integrations|persistence)/[\w/.]*)`")
CATEGORIES = {f"API{number}" for number in range(1, 11)}


def section(text: str) -> str:
    return text.partition("\n## Threat model\n")[2].partition("\n## ")[0]


def rows_of(text: str, columns: int) -> list[list[str]]:
    """The rows of the section's tables of so many columns, without their heads."""
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in section(text).splitlines()
            if line.startswith("| ")]
    return [row for row in rows
            if len(row) == columns and not set(row[0]) <= {"-"} and row[0] not in ("threat", "what")]


def faults_of(rows: list[list[str]]) -> list[str]:
    """Rows that lack something, tests that are not there, categories without a test."""
    faults = [f"{row[0]}: a cell is empty" for row in rows if not all(row)]
    for threat, category, _, tests in rows:
        named = NAMED.findall(tests)
        if category not in CATEGORIES or not named:
            faults.append(f"{threat}: {category} is no category, or no test is named")
        faults += [f"{threat}: {path}::{name} is not there" for path, name in named
                   if not (TOP / path).is_file() or (name and f"def {name}(" not in (TOP / path).read_text("utf-8"))]
    return faults + [f"{each} has no row" for each in sorted(CATEGORIES - {row[1] for row in rows})]


TEXT = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
THREATS = rows_of(TEXT, 4)


def test_every_threat_has_a_defence_and_a_test_that_is_there() -> None:
    assert len(THREATS) > 20
    assert faults_of(THREATS) == []


def test_every_limit_says_where_it_stands() -> None:
    limits = rows_of(TEXT, 3)
    assert len(limits) > 10
    missing = [place for row in limits for place in PLACED.findall(row[2]) if not (TOP / "service" / place).exists()]
    assert missing == []
    assert [row[0] for row in limits if not PLACED.search(row[2]) and "tests/" not in row[2]] == []


@pytest.mark.parametrize("planted", [
    ["a threat", "API1", "a defence", "`tests/rest/test_nothing.py`"],
    ["a threat", "API1", "a defence", "`tests/rest/test_paging.py::test_none_of_that_name`"],
    ["a threat", "API11", "a defence", "`tests/rest/test_paging.py`"], ["a threat", "API1", "a defence", "none"],
    ["a threat", "API1", "", "`tests/rest/test_paging.py`"]])
def test_a_row_that_shows_nothing_is_found(planted: list[str]) -> None:
    assert len(faults_of([*THREATS, planted])) == 1
    assert faults_of([row for row in THREATS if row[1] != "API7"]) == ["API7 has no row"]
