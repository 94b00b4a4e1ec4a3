"""Which cuts and recipes a change can have moved since the snapshot before: only their rows have to be made, before and
after, to find those that say something else.

Rules that always hold: what is left out has the very same row in both snapshots but for where it stands. A row rests on
the node's own costs and those of what it uses, and on the records: of a recipe its own, of a cut all breakdowns down to
what was bought, with their tests and the conversions of ingredients.
"""

from collections.abc import Callable, Set

from service.domain.breakdown import Breakdown
from service.domain.very_same import others
from service.use_cases.cost_rows import cut_row, cut_rows, recipe_row, recipe_rows
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot

_NOT_FIGURES = frozenset(("as_of", "revision"))
Row = Callable[[Snapshot, str], Document]
Rows = Callable[[Snapshot], list[Document]]


def moved_cuts(before: Snapshot, after: Snapshot) -> list[Document]:
    """The cuts whose published figures differ, by code, each before and after."""
    some = _cuts(after) if _comparable(before, after) else None
    return _moved("cut", *_told(before, after, some, cut_row, cut_rows, "cut"))


def moved_recipes(before: Snapshot, after: Snapshot) -> list[Document]:
    """The recipes whose published figures differ, by code, each before and after."""
    some = _recipes(after) if _comparable(before, after) else None
    return _moved("recipe", *_told(before, after, some, recipe_row, recipe_rows, "recipe"))


def _comparable(before: Snapshot, after: Snapshot) -> bool:
    """Whether only nodes and the records of breakdowns, recipes and dishes can have moved a row: same ingredients, same
    tests, same settings, the same allergens everywhere."""
    was, now = before.kitchen, after.kitchen
    allergens = before.kept_already("allergens")
    return (after.stands_on(before) and was.settings == now.settings and was.ingredients is now.ingredients
            and was.yield_tests is now.yield_tests and allergens is not None
            and after.kept_already("allergens") is allergens)


def _recipes(after: Snapshot) -> Set[str]:
    return _above(after, "recipe") | _changed(after, "recipes")


def _cuts(after: Snapshot) -> Set[str]:
    """Those above the change, and those of the breakdowns that changed and of all that break their cuts down again:
    a by-product stands on nothing, and still tells its yields."""
    found, waiting = set(_above(after, "cut")), _changed(after, "breakdowns")
    users: dict[str, list[Breakdown]] = {}
    for breakdown in after.kitchen.breakdowns.values():
        if breakdown.in_use and breakdown.input.cut is not None:
            users.setdefault(breakdown.input.cut, []).append(breakdown)
    seen: set[str] = set()
    while waiting:
        code = waiting.pop()
        if code in seen or not after.kitchen.breakdowns[code].in_use:
            continue
        seen.add(code)
        for output in after.kitchen.breakdowns[code].cuts:
            found.add(output.cut)
            waiting |= {user.code for user in users.get(output.cut, ())}
    return found


def _above(after: Snapshot, kind: str) -> Set[str]:
    """The things of a kind that stand on what changed."""
    standing = () if after.earlier is None else after.earlier.standing
    return {after.network.nodes[index].code for index in standing if after.network.nodes[index].kind == kind}


def _changed(after: Snapshot, kind: str) -> set[str]:
    """The records of a kind that are not what they were."""
    return set() if after.earlier is None else set(others(getattr(after.earlier.kitchen, kind),
                                                          getattr(after.kitchen, kind)))


def _told(before: Snapshot, after: Snapshot, some: Set[str] | None, row: Row, rows: Rows,
          kind: str) -> tuple[dict[str, Document], dict[str, Document]]:
    """The rows by code, before and after: of some, or of all."""
    if after is before:
        return {}, {}
    if some is None:
        was, now = ({str(one[kind]): one for one in rows(snapshot)} for snapshot in (before, after))
    else:
        was, now = ({code: row(snapshot, code) for code in some} for snapshot in (before, after))
    return was, now


def _moved(kind: str, was: dict[str, Document], now: dict[str, Document]) -> list[Document]:
    moved = (code for code in sorted(was.keys() | now.keys()) if _figures(was.get(code)) != _figures(now.get(code)))
    return [{kind: code, "name": (now.get(code) or was[code])["name"], "before": was.get(code), "after": now.get(code)}
            for code in moved]


def _figures(row: Document | None) -> Document | None:
    return None if row is None else {name: value for name, value in row.items() if name not in _NOT_FIGURES}
