"""Patterns of the service do not backtrack without an end: no repetition without a most stands in another one, unless
what parts its turns is nothing that it could take itself.

`(a+)+` can part `aaaa` in as many ways as there are; `(,[0-9]+)*` in one, since every turn begins with a comma, which
no digit is. Python's own parser of patterns gives the tree. What two repetitions after each other cost is at most a
power of the text's length, and that is bounded before a pattern sees it (the limits in DEVELOPERS.md).

Source: CWE-1333; OWASP ASVS 5.0.0, 1.3.12. `re._parser` is no public interface: a release that changes it fails here.
"""

import ast
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from typing import Any

import pytest

from tests.architecture.source_tree import modules, name_of, parsed

TAKES_A_PATTERN = {"compile", "match", "fullmatch", "search", "sub", "subn", "split", "findall", "finditer"}
SAYS_PATTERN = re.compile(r"\bimport re\b|\bfrom re\b|Regexp|_PATTERN\b")
"""Modules without any of it give none and name none."""
FEW = 16
"""A repetition of at most so many turns is taken for one with an end."""
CHARACTERS = [chr(number) for number in (*range(256), 0x2028, 0x2066, 0x20AC, 0x1F404)]
"""All that patterns tell apart here, and some that stand for the rest."""
NOT_LITERAL = {
    "service/watching/kept_secrets.py": "forms of known secrets, each escaped, joined by |",
}
"""Where a pattern is made when the service runs, of what."""
_ONE = ("LITERAL", "NOT_LITERAL", "ANY", "IN", "CATEGORY")
_REPEATS = ("MAX_REPEAT", "MIN_REPEAT")
Items = Sequence[tuple[Any, Any]]


@cache
def taken(item: str) -> frozenset[str]:
    """The characters that a pattern for one of them matches, as if it were one for which case is nothing."""
    return frozenset(each for each in CHARACTERS if re.fullmatch(item, each, re.DOTALL | re.IGNORECASE))


def characters(name: str, value: Any) -> frozenset[str]:
    """What an item of a pattern that takes one character takes."""
    if name == "ANY":
        return frozenset(CHARACTERS)
    if name in ("LITERAL", "NOT_LITERAL"):
        return taken(f"[{'^' if name == 'NOT_LITERAL' else ''}{re.escape(chr(value))}]")
    parts = [("^" if str(kind) == "NEGATE" else _in_a_class(str(kind), what)) for kind, what in value]
    return taken(f"[{''.join(parts)}]")


def _in_a_class(kind: str, what: Any) -> str:
    if kind == "RANGE":
        return "-".join(re.escape(chr(each)) for each in what)
    if kind == "CATEGORY":
        name = str(what).removeprefix("CATEGORY_")
        letter = {"DIGIT": "d", "SPACE": "s", "WORD": "w"}[name.removeprefix("NOT_")]
        return "\\" + (letter.upper() if name.startswith("NOT_") else letter)
    return re.escape(chr(what))


def inside(name: str, value: Any) -> Iterator[Items]:
    """The sequences within an item."""
    if name in _REPEATS:
        yield value[2]
    elif name == "BRANCH":
        yield from value[1]
    elif name in ("SUBPATTERN", "ASSERT", "ASSERT_NOT"):
        yield value[-1]
    elif name in ("ATOMIC_GROUP", "POSSESSIVE_REPEAT", "GROUPREF_EXISTS"):
        raise NotImplementedError(f"{name}: say here what it repeats")


def repeated_within(items: Items) -> frozenset[str]:
    """What repetitions without an end take, anywhere within; a repetition is without one from FEW turns on."""
    found: frozenset[str] = frozenset()
    for kind, value in items:
        name = str(kind)
        if name in _REPEATS and value[1] > FEW:
            found |= all_within(value[2])
        for each in inside(name, value):
            found |= repeated_within(each)
    return found


def all_within(items: Items) -> frozenset[str]:
    """Every character that something within takes."""
    found: frozenset[str] = frozenset()
    for kind, value in items:
        if str(kind) in _ONE:
            found |= characters(str(kind), value)
        for each in inside(str(kind), value):
            found |= all_within(each)
    return found


def parts_its_turns(items: Items, repeated: frozenset[str]) -> bool:
    """Whether something that must be there is nothing that the repetitions within could take."""
    for kind, value in items:
        name = str(kind)
        if name in _ONE and not characters(name, value) & repeated:
            return True
        if name == "BRANCH" and all(parts_its_turns(each, repeated) for each in value[1]):
            return True
        if name == "SUBPATTERN" and parts_its_turns(value[-1], repeated):
            return True
        if name in _REPEATS and value[0] > 0 and parts_its_turns(value[2], repeated):
            return True
    return False


def nested(items: Items) -> Iterator[str]:
    """Repetitions in repetitions by which one text can be parted in many ways."""
    for kind, value in items:
        name = str(kind)
        if name in _REPEATS and value[1] > FEW:
            repeated = repeated_within(value[2])
            if repeated and not parts_its_turns(value[2], repeated):
                yield f"a repetition in a repetition of {value[0]} turns or more"
        for each in inside(name, value):
            yield from nested(each)


def faults_of(pattern: str | bytes) -> list[str]:
    """What is wrong with a pattern."""
    text = pattern.decode("latin-1") if isinstance(pattern, bytes) else pattern
    return list(nested(re._parser.parse(text)))  # type: ignore[attr-defined]


def texts_of(node: ast.expr | None, named: Mapping[str, list[str | bytes]]) -> list[str | bytes]:
    """The patterns that an argument may be; what is put into one when the service runs stands as one letter."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str | bytes):
        return [node.value]
    if isinstance(node, ast.Name):
        return named.get(node.id, [])
    if isinstance(node, ast.JoinedStr):
        return ["".join(str(part.value) if isinstance(part, ast.Constant) else "x" for part in node.values)]
    return []


def patterns_in(tree: ast.AST, named: Mapping[str, list[str | bytes]]) -> Iterator[tuple[int, list[str | bytes]]]:
    """Every pattern that is given to `re`, or to a field as its `pattern`, by its line; empty: not to be read here."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        of_re = isinstance(node.func, ast.Attribute) and node.func.attr in TAKES_A_PATTERN and \
            isinstance(node.func.value, ast.Name) and node.func.value.id == "re"
        if of_re or getattr(node.func, "id", getattr(node.func, "attr", "")) == "Regexp":
            yield node.lineno, texts_of(node.args[0], named)


def constants(trees: Iterable[ast.AST]) -> dict[str, list[str | bytes]]:
    """What the names of texts of all modules stand for."""
    named = dict[str, list[str | bytes]]()
    for node in (each for tree in trees for each in ast.walk(tree)):
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            named.setdefault(node.targets[0].id, []).extend(texts_of(node.value, {}))
    return named


def test_no_pattern_of_the_service_backtracks_without_an_end() -> None:
    paths = [path for path in modules("service") if SAYS_PATTERN.search(path.read_text(encoding="utf-8"))]
    named = constants(parsed(path) for path in paths)
    found = [(name_of(path), line, texts) for path in paths for line, texts in patterns_in(parsed(path), named)]
    assert len(found) > 50
    assert {path for path, _, texts in found if not texts} == set(NOT_LITERAL)
    assert [(path, line, text) for path, line, texts in found for text in texts if faults_of(text)] == []


@pytest.mark.parametrize("planted", [
    "(a+)+$", "(a*)*", "(?:[a-z]+,?)*", "(a|b+)+", "((?:x+y?)+)!", r"(\s*\w+\s*)+=", "(?:.*,)*", "([^,]*x?){20,}",
    b"(\\w+\\s?)*", "((ab)+|c)*?", "(A[a-z]+)*", "(?=(a+)+b)"])
def test_a_planted_pattern_is_found(planted: str | bytes) -> None:
    assert faults_of(planted) != []


@pytest.mark.parametrize("harmless", [
    "a+b*", "(,[0-9]+)*", r'(W/)?"[^"]*"([ \t]*,[ \t]*(W/)?"[^"]*")*', "(a+){1,3}", "(?:per|pro)+", "(ab)+",
    "[!-~]+(?: [!-~]+)*"])
def test_what_parts_a_text_in_one_way_is_let_be(harmless: str) -> None:
    assert faults_of(harmless) == []


def test_patterns_are_found_where_they_are_given() -> None:
    tree = ast.parse("P = '(a+)+'\nre.compile(P)\nRegexp('b')\nre.sub(f'{x}c', y, z)\nre.compile(made())\n"
                     "other.match('d')")
    assert list(patterns_in(tree, constants([tree]))) == [(2, ["(a+)+"]), (3, ["b"]), (4, ["xc"]), (5, [])]
