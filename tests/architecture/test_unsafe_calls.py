"""What no module may do: SQL put together from text, waiting without an end, decimals of any size made whole, code run.

Rules over the syntax tree, beside ruff's S rules (which are bandit's). Sources: CWE-89, CWE-400, CWE-1284, CWE-95,
CWE-502.
"""

import ast
from collections.abc import Iterator

import pytest

from tests.architecture.source_tree import modules, name_of, parsed

RUNS_SQL = {"text", "execute", "exec_driver_sql", "executemany", "one"}
RUNS_CODE = {"eval", "exec", "compile", "__import__"}
UNPACKS = {"pickle", "marshal", "shelve", "yaml", "dill"}
NEEDS_TIME = {"urlopen": 1, "create_connection": 1, "request": 99}
NUMBERED = {
    "service/persistence/engines.py": "a time-out in milliseconds, a number of our own",
    "service/persistence/migrating.py": "names of a schema of our own",
    "service/persistence/postgresql_engine.py": "time-outs of our own",
    "service/persistence/row_storing.py": "names of tables and columns of our own",
    "service/persistence/sqlite_engine.py": "pragmas of our own",
}
"""Where text is put into SQL that comes from no request, and cannot be bound."""


def called(node: ast.Call) -> str:
    """The last name of what is called."""
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def put_together(node: ast.expr) -> bool:
    """Text made of parts when it runs."""
    if isinstance(node, ast.JoinedStr):
        return any(isinstance(part, ast.FormattedValue) for part in node.values)
    if isinstance(node, ast.BinOp):
        return isinstance(node.op, ast.Mod | ast.Add) and any(
            isinstance(side, ast.JoinedStr) or (isinstance(side, ast.Constant) and isinstance(side.value, str))
            for side in (node.left, node.right))
    return isinstance(node, ast.Call) and called(node) == "format"


def offences(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Lines, and what is wrong on them."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import | ast.ImportFrom):
            names = [alias.name for alias in node.names] + [getattr(node, "module", None) or ""]
            yield from ((node.lineno, "unpacks objects") for name in names if name.split(".")[0] in UNPACKS)
        if not isinstance(node, ast.Call):
            continue
        name, keywords = called(node), {keyword.arg for keyword in node.keywords}
        if name in RUNS_SQL and node.args and put_together(node.args[0]):
            yield node.lineno, "SQL put together"
        if name in RUNS_CODE and isinstance(node.func, ast.Name):
            yield node.lineno, "runs code"
        if name in NEEDS_TIME and "timeout" not in keywords and len(node.args) <= NEEDS_TIME[name]:
            yield node.lineno, "waits without an end"
        if name == "int" and node.args and isinstance(node.args[0], ast.Call) and called(node.args[0]) == "Decimal":
            yield node.lineno, "makes a decimal of any size whole"
        if "shell" in keywords:
            yield node.lineno, "runs a shell"


def test_no_module_does_any_of_it() -> None:
    found = {(name_of(path), what): line for path in modules("service") for line, what in offences(parsed(path))}
    assert {place: line for place, line in found.items()
            if not (place[1] == "SQL put together" and place[0] in NUMBERED)} == {}
    assert sorted(NUMBERED) == sorted(path for path, what in found if what == "SQL put together")


@pytest.mark.parametrize("planted", [
    "connection.execute(f'SELECT {name}')", "text('SELECT ' + name)", "exec_driver_sql('SELECT %s' % name)",
    "quick.one('SELECT {}'.format(name), ())", "urlopen(url)", "socket.create_connection(address)",
    "int(Decimal(given))", "eval(given)", "import pickle", "from yaml import load", "run(command, shell=True)"])
def test_a_planted_offence_is_found(planted: str) -> None:
    assert len(list(offences(ast.parse(planted)))) >= 1


@pytest.mark.parametrize("harmless", [
    "connection.execute(select(key))", "text('SELECT 1')", "urlopen(url, timeout=5)", "int(given)",
    "re.compile(pattern)", "connection.execute(statement, {'name': f'{first} {last}'})"])
def test_what_is_harmless_is_let_be(harmless: str) -> None:
    assert list(offences(ast.parse(harmless))) == []
