"""What stands from a day on: which cuts can be used, who uses what, and on which later days that changes."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from service.domain.breakdown import Breakdown, Output
from service.domain.history import Histories, record_on, versions_from
from service.domain.kitchen import Kitchen
from service.domain.network import Key
from service.domain.uses import used_by_input, used_by_lines

Users = list[dict[str, str]]


def makers_of_cuts(kitchen: Kitchen, day: date) -> dict[str, tuple[Breakdown, Output]]:
    """Each cut that can be used on `day`, with the breakdown in use that makes it."""
    standing = (record_on(history, day) for history in kitchen.breakdowns.values())
    return {output.cut: (breakdown, output)
            for breakdown in standing if breakdown is not None and breakdown.in_use
            for output in breakdown.cuts}


def used_by(record: Any) -> tuple[Key, ...]:
    """The keys that a breakdown's input, or a recipe's or dish's lines, name."""
    return (used_by_input(record.input),) if isinstance(record, Breakdown) else used_by_lines(record.lines)


def users_from(kitchen: Kitchen, keys: frozenset[Key], day: date) -> Users:
    """Who uses any of `keys` on `day` or later: kind and code of each user, and what it uses."""
    users: Users = []
    everything: Mapping[str, Histories[Any]] = {
        "breakdown": kitchen.breakdowns, "recipe": kitchen.recipes, "dish": kitchen.dishes}
    for kind, histories in everything.items():
        for code, history in histories.items():
            named = {key for version in versions_from(history, day) if not version.retired
                     for key in used_by(version.record) if key in keys}
            users.extend({"kind": kind, "code": code, "uses": used} for _, used in sorted(named))
    return users


def days_that_matter(kitchen: Kitchen, day: date) -> list[date]:
    """`day`, and every later day on which some version of a breakdown, recipe or dish starts."""
    later = {version.effective_from
             for histories in (kitchen.breakdowns, kitchen.recipes, kitchen.dishes)
             for history in histories.values() for version in history
             if version.effective_from is not None and version.effective_from > day}
    return [day, *sorted(later)]
