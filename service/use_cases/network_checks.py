"""What a change does to what stands around it: loops, bounds, and cuts that something still uses.

Checked on the day the change starts and on every later day on which something else starts, over the kitchen as it
would be. A loop or a passed bound that is new goes through the changed record, so only that is looked at.
"""

from collections.abc import Sequence
from datetime import date
from typing import Any

from service.domain.bounds import check_bounds
from service.domain.errors import Fault, LimitPassed, RetiredReference, StillInUse
from service.domain.history import record_on, versions_from
from service.domain.ingredient import Ingredient
from service.domain.kitchen import Kitchen
from service.domain.loops import find_loop, loop_fault
from service.domain.network import Key
from service.domain.price_in_force import offers
from service.domain.uses import Uses, uses_of
from service.use_cases.kinds import Change, Kind
from service.use_cases.standing import Users, days_that_matter, makers_of_cuts, used_by, users_from

_IN_THE_NETWORK = frozenset(("breakdown", "recipe", "dish"))


def network_faults(kind: Kind, change: Change, before: Kitchen, after: Kitchen) -> Sequence[Fault]:
    """Every fault that the change would bring into the network; at most one loop or bound, the first day it shows."""
    if kind.name not in _IN_THE_NETWORK:
        return ()
    faults: list[Fault] = []
    if kind.name == "breakdown":
        dropped = (_dropped_cuts(day, before, after) for day in days_that_matter(after, change.day))
        faults.extend([fault for fault in dropped if fault is not None][:1])
    for day in days_that_matter(after, change.day):
        record = record_on(kind.history(after, change.code), day)
        if record is not None:
            uses = uses_of(after.on(day))
            fault = _fault_on(uses, kind.key(change.code), change) or _made_no_more(uses, record, change, day)
            if fault is not None:
                return [*faults, fault]
    return faults


def faults_of_retiring(kind: Kind, change: Change, kitchen: Kitchen) -> Sequence[Fault]:
    """Why a record cannot be retired from a day on: something still uses it (or a cut that it makes)."""
    users = _users_of_record(kind, change, kitchen)
    if not users:
        return ()
    return [StillInUse(
        f"{kind.name.capitalize()} {change.code!r} is used by {_named(users)}; change or retire them first.",
        users=users)]


def _users_of_record(kind: Kind, change: Change, kitchen: Kitchen) -> Users:
    if kind.name == "supplier":
        return _ingredients_priced_by(change.code, kitchen, change.day)
    keys = {kind.key(change.code)}
    if kind.name == "breakdown":
        keys = {("cut", cut) for day in days_that_matter(kitchen, change.day)
                for cut, (maker, _) in makers_of_cuts(kitchen, day).items() if maker.code == change.code}
    return users_from(kitchen, frozenset(keys), change.day)


def _ingredients_priced_by(supplier: str, kitchen: Kitchen, day: date) -> Users:
    """The ingredients whose price is the supplier's to decide: preferred now or later, or alone with one in force."""
    standing = kitchen.on(day)

    def decides(ingredient: Ingredient) -> bool:
        if any(version.record.preferred_supplier == supplier
               for version in versions_from(kitchen.ingredients[ingredient.code], day) if not version.retired):
            return True
        on_offer = offers(standing.prices.get(ingredient.code, ()), day)
        return ingredient.preferred_supplier is None and on_offer.keys() == {supplier}

    return [{"kind": "ingredient", "code": code, "uses": supplier}
            for code, ingredient in sorted(standing.ingredients.items()) if decides(ingredient)]


def _dropped_cuts(day: date, before: Kitchen, after: Kitchen) -> Fault | None:
    """Cuts that are made on a day, would not be, and are used then or later."""
    dropped = makers_of_cuts(before, day).keys() - makers_of_cuts(after, day).keys()
    users = users_from(after, frozenset(("cut", cut) for cut in dropped), day)
    if not users:
        return None
    cuts = ", ".join(sorted({user["uses"] for user in users}))
    return StillInUse(f"Nothing would make {cuts} from {day} on, used by {_named(users)}; change them first.",
                      "#/outputs", users=users)


def _fault_on(uses: Uses, key: Key, change: Change) -> Fault | None:
    loop = find_loop(uses, key)
    if loop is not None:
        return loop_fault(loop, _pointer(change, loop[1]))
    try:
        check_bounds(uses, [key])
    except LimitPassed as passed:
        return passed
    return None


def _made_no_more(uses: Uses, record: Any, change: Change, day: date) -> Fault | None:
    """A cut that the changed record uses and that nothing makes from a later day on."""
    if day == change.day or record != change.record:
        return None
    for used in used_by(record):
        if used[0] == "cut" and used not in uses:
            return RetiredReference(
                f"Nothing in use makes the cut {used[1]!r} from {day} on; schedule a breakdown that does, or use "
                "another.", _pointer(change, used))
    return None


def _pointer(change: Change, used: Key) -> str:
    """The field of the changed record that names `used`."""
    if not hasattr(change.record, "lines"):
        return f"#/input/{used[0]}"
    number = next((n for n, line in enumerate(change.record.lines) if line.uses == used), 0)
    return f"#/lines/{number}/{used[0]}"


def _named(users: Users) -> str:
    names = [f"{user['kind']} {user['code']!r}" for user in users]
    return ", ".join(names[:10]) + (f" and {len(names) - 10} more" if len(names) > 10 else "")
