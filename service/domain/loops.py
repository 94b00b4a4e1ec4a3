"""Loops: a recipe or breakdown that contains itself, directly or round many corners.

Every write is checked before it is kept, so only a loop through the record being written can be new. Each record is
visited once, however many ways lead to it, and nothing recurses.
"""

from collections.abc import Iterable, Mapping, Sequence

from service.domain.errors import RecipeLoop
from service.domain.network import Key


def find_loop(uses: Mapping[Key, Iterable[Key]], start: Key) -> tuple[Key, ...] | None:
    """The way round from `start` back to itself, with `start` at both ends; None when it does not contain itself.

    Example: a stock that uses a glaze that uses the stock gives (stock, glaze, stock).
    """
    trail = [start]
    rests = [iter(uses.get(start, ()))]
    seen = {start}
    while rests:
        for used in rests[-1]:
            if used == start:
                return (*trail, start)
            if used not in seen:
                seen.add(used)
                trail.append(used)
                rests.append(iter(uses.get(used, ())))
                break
        else:
            rests.pop()
            trail.pop()
    return None


def way_round(loop: Iterable[Key]) -> str:
    """The loop in words: `recipe stock -> recipe glaze -> recipe stock`."""
    return " -> ".join(f"{kind} {code}" for kind, code in loop)


def loop_fault(loop: Sequence[Key], pointer: str) -> RecipeLoop:
    """The refusal of a record that would contain itself, pointing at the field that closes the loop."""
    return RecipeLoop(f"It would contain itself: {way_round(loop)}. Take it out at one of these.", pointer,
                      loop=[{"kind": kind, "code": code} for kind, code in loop])


def in_dependency_order(uses: Mapping[str, Iterable[str]]) -> tuple[list[str], frozenset[str]]:
    """The codes with what is used before its users, ties in alphabetical order; and those on a loop.

    What stands on a loop (or between two) has no such order: it comes after all that is below it, and before what
    merely uses it. Uses outside the mapping are passed over.
    """
    order = _waves(uses)
    stuck = set(uses).difference(order)
    if not stuck:
        return order, frozenset()
    within = {code: [used for used in uses[code] if used in stuck] for code in stuck}
    above = _waves(_turned(within))
    loops = frozenset(stuck.difference(above))
    rest = _waves({code: [used for used in within[code] if used not in loops] for code in above})
    return [*order, *sorted(loops), *rest], loops


def _waves(uses: Mapping[str, Iterable[str]]) -> list[str]:
    """Wave after wave of those that use nothing still waiting. Those on a loop, and their users, never come."""
    left = {code: len({used for used in used_codes if used in uses}) for code, used_codes in uses.items()}
    users = _turned(uses)
    order: list[str] = []
    wave = sorted(code for code, count in left.items() if count == 0)
    while wave:
        order.extend(wave)
        following = []
        for code in wave:
            for user in users[code]:
                left[user] -= 1
                if left[user] == 0:
                    following.append(user)
        wave = sorted(following)
    return order


def _turned(uses: Mapping[str, Iterable[str]]) -> dict[str, list[str]]:
    """Users by what they use."""
    users: dict[str, list[str]] = {code: [] for code in uses}
    for user, used_codes in uses.items():
        for used in set(used_codes):
            if used in users:
                users[used].append(user)
    return users
