"""The project's own files as the architecture tests read them: tracked paths, parsed modules, functions."""

import ast
import subprocess
from collections.abc import Iterator
from functools import cache
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
FunctionNode = ast.FunctionDef | ast.AsyncFunctionDef


def modules(*folders: str) -> list[Path]:
    """Every Python module below the folders, in a stable order."""
    found = [path for folder in folders for path in sorted((TOP / folder).rglob("*.py"))]
    assert found, f"no module below {folders}: the check would say nothing"
    return found


def name_of(path: Path) -> str:
    """A path as people write it, from the checkout's top."""
    return path.relative_to(TOP).as_posix()


@cache
def parsed(path: Path) -> ast.Module:
    """The module's syntax tree."""
    return ast.parse(path.read_text(encoding="utf-8"))


def functions(path: Path) -> Iterator[FunctionNode]:
    """Every function and method of a module, nested ones too."""
    return (node for node in ast.walk(parsed(path)) if isinstance(node, FunctionNode))


def imports(tree: ast.AST) -> Iterator[str]:
    """The dotted names that a module imports, wherever in it."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module or ""


def tracked_files() -> list[Path]:
    """What the repository holds: known to git, or about to be (new and not ignored)."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=TOP, capture_output=True, check=True).stdout
    paths = [TOP / name for name in listed.decode().split("\0") if name]
    return [path for path in paths if path.is_file()]
