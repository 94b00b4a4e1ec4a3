"""Elements of a UBL document as the cage tells of them: [name, text, {attribute: value}, {name: [children so named]}].

Paths are written as the standard writes them, from the element on: "cac:Item/cbc:Name".
"""

from collections.abc import Sequence
from functools import cache
from typing import Any

Node = list[Any]


def root_node(name: str) -> Node:
    """An element without anything in it yet."""
    return [name, "", {}, {}]


def put(node: Node, child: Node) -> None:
    """Puts an element into another, behind those of its name."""
    node[3].setdefault(child[0], []).append(child)


def under(node: Node, path: str) -> Sequence[Node]:
    """Every element at the path, in the document's order."""
    found = [node]
    for name in _steps(path):
        found = found[0][3].get(name, ()) if len(found) == 1 else [
            child for each in found for child in each[3].get(name, ())]
    return found


def first(node: Node, *paths: str) -> Node | None:
    """The first element at the first path that leads to one."""
    for path in paths:
        if found := under(node, path):
            return found[0]
    return None


def text_at(node: Node, *paths: str) -> str:
    """The text at the first path that leads to any; empty when none does."""
    for path in paths:
        for found in under(node, path):
            if text := tidied(found[1]):
                return text
    return ""


def attribute(node: Node | None, name: str) -> str:
    """An attribute without blanks around it; empty when it, or the element, is missing."""
    return "" if node is None else str(node[2].get(name, "")).strip()


def tidied(text: str) -> str:
    """Text on one line, without control characters."""
    if text.isprintable() and "  " not in text:
        return text.strip()
    return " ".join("".join(each if each.isprintable() else " " for each in text).split())


@cache
def _steps(path: str) -> tuple[str, ...]:
    return tuple(path.split("/"))
