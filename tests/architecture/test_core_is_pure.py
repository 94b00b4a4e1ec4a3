"""The core is pure: what imports cannot show, read from its syntax.

The allow-list holds where import-linter's deny-list would let an unthought-of module pass.
"""

import ast
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.architecture.source_tree import imports, modules, name_of, parsed

PURE = {"__future__", "abc", "bisect", "collections", "contextlib", "dataclasses", "datetime", "decimal", "enum",
        "fractions", "functools", "graphlib", "heapq", "itertools", "math", "operator", "re", "types", "typing",
        "zoneinfo"}
IN_USE_CASES = PURE | {"base64", "csv", "difflib", "hashlib", "hmac", "json", "secrets", "threading", "unicodedata",
                       "weakref"}
SWEEP = {"sweep.py", "channel.py", "shape.py", "float_range.py", "known_denominators.py", "settle.py",
         "denominators.py", "decimal_column.py", "menu_terms.py", "published_menu.py", "sweep_many.py",
         "unit_prices.py", "dish_costs.py", "above.py", "published_above.py"}
"""The float sweep and what settles it: the only modules that may know numpy, scipy and float."""
CLOCK = {"now", "today", "utcnow"}

DOMAIN = modules("service/domain")
USE_CASES = modules("service/use_cases")


def foreign_imports(path: Path, allowed: set[str], inside: tuple[str, ...]) -> list[str]:
    return sorted(name for name in imports(parsed(path))
                  if name.split(".")[0] not in allowed and not name.startswith(inside))


def floats(tree: ast.AST) -> Iterator[int]:
    """Lines with a float literal, or with the name `float`."""
    for node in ast.walk(tree):
        literal = isinstance(node, ast.Constant) and isinstance(node.value, float)
        if literal or (isinstance(node, ast.Name) and node.id == "float"):
            yield node.lineno


def clock_readings(tree: ast.AST) -> Iterator[int]:
    """Lines that ask a class for the time: `datetime.now`, `date.today`. A value's own field of that name is data."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr in CLOCK and ast.unparse(node.value) in (
                "date", "datetime", "datetime.date", "datetime.datetime", "time"):
            yield node.lineno


def offenders(paths: list[Path], check: Callable[[Path], list[Any]]) -> dict[str, list[Any]]:
    return {name_of(path): found for path in paths if (found := check(path))}


def test_the_domain_imports_only_what_is_pure() -> None:
    exact = [path for path in DOMAIN if path.name not in SWEEP]
    assert offenders(exact, lambda path: foreign_imports(path, PURE, ("service.domain",))) == {}
    swept = [path for path in DOMAIN if path.name in SWEEP]
    assert offenders(swept, lambda path: foreign_imports(path, PURE | {"numpy", "scipy"}, ("service.domain",))) == {}


def test_use_cases_import_only_the_domain_and_what_touches_nothing() -> None:
    inside = ("service.domain", "service.use_cases")
    assert offenders(USE_CASES, lambda path: foreign_imports(path, IN_USE_CASES, inside)) == {}


def test_no_float_outside_the_sweep() -> None:
    exact = [path for path in DOMAIN if path.name not in SWEEP]
    assert offenders(exact, lambda path: list(floats(parsed(path)))) == {}


def test_the_date_is_an_input() -> None:
    assert offenders(DOMAIN + USE_CASES, lambda path: list(clock_readings(parsed(path)))) == {}


@pytest.mark.parametrize(("check", "offence"), [
    (floats, "share = 0.5"), (floats, "share = float('0.5')"),
    (clock_readings, "day = date.today()"), (clock_readings, "at = datetime.now(UTC)"),
    (clock_readings, "at = datetime.datetime.utcnow()"),
])
def test_a_planted_offence_is_found(check: Callable[[ast.AST], Iterator[int]], offence: str) -> None:
    assert list(check(ast.parse(offence))) == [1]
