"""How a page looks: every module says what it is for, functions and files stay short, packages are empty."""

import ast
from pathlib import Path

from tests.architecture.source_tree import FunctionNode, functions, modules, name_of, parsed

LONGEST_FUNCTION = 40
LONGEST_FILE = 250

LONG_FILES: dict[str, str] = {}
"""Files that may be longer, each with its reason: none at present. A file that no longer is leaves the list."""

LONG_FUNCTIONS: dict[str, str] = {}
"""Functions that may be longer, as `file::function`, likewise: none at present."""

SERVICE = modules("service")
PAGES = [path for path in modules("service", "migrations", "tests") if path.name != "__init__.py"]


def length(node: FunctionNode) -> int:
    """Lines from the first after the docstring to the last."""
    body = node.body[1:] if ast.get_docstring(node) else node.body
    return (node.end_lineno or 0) - body[0].lineno + 1 if body else 0


def lines_of(path: Path) -> int:
    return len(path.read_text(encoding="utf-8").splitlines())


def test_every_module_says_what_it_is_for() -> None:
    assert [name_of(path) for path in PAGES if len(ast.get_docstring(parsed(path)) or "") < 10] == []


def test_functions_stay_short_but_for_those_with_a_reason() -> None:
    long = {f"{name_of(path)}::{node.name}": length(node)
            for path in SERVICE for node in functions(path) if length(node) > LONGEST_FUNCTION}
    assert set(long) == set(LONG_FUNCTIONS), long


def test_files_stay_short_but_for_those_with_a_reason() -> None:
    long = {name_of(path): lines_of(path) for path in SERVICE if lines_of(path) > LONGEST_FILE}
    assert set(long) == set(LONG_FILES), long


def test_packages_are_empty() -> None:
    packages = [path for path in SERVICE if path.name == "__init__.py"]
    assert [name_of(path) for path in packages if path.read_text(encoding="utf-8")] == []


def test_a_long_function_would_be_seen() -> None:
    node = ast.parse("def f():\n" + "    x = 1\n" * (LONGEST_FUNCTION + 1)).body[0]
    assert isinstance(node, FunctionNode)
    assert length(node) == LONGEST_FUNCTION + 1
