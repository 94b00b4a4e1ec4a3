"""Every test can fail: it asserts, expects an exception, or calls a check that does.

A check is a function of the tests whose own body (or whose callee's) asserts; a fixture that asserts does not count.
"""

import ast

import pytest

from tests.architecture.source_tree import FunctionNode, functions, modules, name_of, parsed

EXPECTING = {"raises", "warns", "fail"}
MODULES = modules("tests")


def called(node: ast.AST) -> set[str]:
    """The last names of what is called: `check(...)`, `judge.check(...)`."""
    calls = (each.func for each in ast.walk(node) if isinstance(each, ast.Call))
    return {func.attr if isinstance(func, ast.Attribute) else func.id for func in calls
            if isinstance(func, ast.Attribute | ast.Name)}


def asserts(node: ast.AST) -> bool:
    return any(isinstance(each, ast.Assert) for each in ast.walk(node)) or bool(called(node) & EXPECTING)


def checks_among(known: list[FunctionNode]) -> set[str]:
    """Names of the functions that assert, or call one that does."""
    found = {node.name for node in known if asserts(node)}
    while more := {node.name for node in known if node.name not in found and called(node) & found}:
        found |= more
    return found


def empty_tests(tree: ast.Module, checks: set[str]) -> list[str]:
    return [node.name for node in ast.walk(tree)
            if isinstance(node, FunctionNode) and node.name.startswith("test_") and node.name not in checks]


def test_every_test_can_fail() -> None:
    files = [path for path in MODULES if path.name.startswith("test_")]
    checks = checks_among([node for path in MODULES for node in functions(path)])
    assert {name_of(path): found for path in files if (found := empty_tests(parsed(path), checks))} == {}


@pytest.mark.parametrize(("source", "empty"), [
    ("def test_nothing():\n    pass", ["test_nothing"]),
    ("def test_runs():\n    cost(1)", ["test_runs"]),
    ("def test_holds():\n    assert cost(1) == 2", []),
    ("def test_refuses():\n    with pytest.raises(ValueError):\n        cost(-1)", []),
    ("def holds(x):\n    assert x\ndef test_by_a_check():\n    holds(1)", []),
])
def test_a_planted_empty_test_is_found(source: str, empty: list[str]) -> None:
    tree = ast.parse(source)
    checks = checks_among([node for node in ast.walk(tree) if isinstance(node, FunctionNode)])
    assert empty_tests(tree, checks) == empty
