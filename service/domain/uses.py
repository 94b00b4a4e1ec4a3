"""Which record uses which, on one day.

Keys are (kind, code): a dish or recipe uses what its lines name; a cut uses the breakdown in use that makes it; a
breakdown, in use or not, uses its input. Rules that always hold:

- a cut that nothing in use makes is named by its users and uses nothing itself;
- what does not stand that day may still be named: it appears among the used, never as a user.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping

from service.domain.breakdown import BreakdownInput
from service.domain.kitchen import KitchenOnDay
from service.domain.network import Key
from service.domain.recipe import Line

Uses = Mapping[Key, tuple[Key, ...]]


def used_by_lines(lines: Iterable[Line]) -> tuple[Key, ...]:
    """What the lines use, each once, in the order first named."""
    return tuple(dict.fromkeys([line.uses for line in lines]))


def used_by_input(source: BreakdownInput) -> Key:
    """What a breakdown breaks down."""
    return ("ingredient", source.ingredient) if source.ingredient is not None else ("cut", source.cut or "")


def uses_of(kitchen: KitchenOnDay) -> Uses:
    """Everything that stands on the day, with what it uses."""
    uses: dict[Key, tuple[Key, ...]] = {}
    for code, breakdown in kitchen.breakdowns.items():
        uses["breakdown", code] = (used_by_input(breakdown.input),)
        if breakdown.in_use:
            uses.update((("cut", output.cut), (("breakdown", code),)) for output in breakdown.cuts)
    for code, recipe in kitchen.recipes.items():
        uses["recipe", code] = used_by_lines(recipe.lines)
    for code, dish in kitchen.dishes.items():
        uses["dish", code] = used_by_lines(dish.lines)
    return uses


def users_of(uses: Uses) -> Uses:
    """The same the other way round: everything that is used, with its direct users."""
    users: defaultdict[Key, list[Key]] = defaultdict(list)
    for user, used in uses.items():
        for key in used:
            users[key].append(user)
    return {key: tuple(found) for key, found in users.items()}


def reached_from(uses: Mapping[Key, Iterable[Key]], starts: Iterable[Key]) -> set[Key]:
    """The starts and all that can be reached from them. Given `users_of`, all that stands above."""
    found = set(starts)
    waiting = list(found)
    while waiting:
        for key in uses.get(waiting.pop(), ()):
            if key not in found:
                found.add(key)
                waiting.append(key)
    return found


def standing_on(uses: Uses, changed: Iterable[Key]) -> set[Key]:
    """The changed records and everything that uses them, however far above.

    Nothing uses a dish, so that the dishes, which are most of a kitchen, are only looked through once at the end.
    """
    found = reached_from(users_of({user: used for user, used in uses.items() if user[0] != "dish"}), changed)
    found.update([user for user, used in uses.items() if user[0] == "dish" and not found.isdisjoint(used)])
    return found


def depth_first(uses: Mapping[Key, Iterable[Key]], starts: Iterable[Key]) -> list[Key]:
    """All that can be reached from the starts, each once, what is used before its users. Never recurses.

    Round a loop there is no such order; each key of it still comes once.
    """
    order: list[Key] = []
    seen: set[Key] = set()
    for start in starts:
        if start in seen:
            continue
        seen.add(start)
        trail = [(start, iter(uses.get(start, ())))]
        while trail:
            key, rest = trail[-1]
            for used in rest:
                if used not in seen:
                    seen.add(used)
                    trail.append((used, iter(uses.get(used, ()))))
                    break
            else:
                trail.pop()
                order.append(key)
    return order
