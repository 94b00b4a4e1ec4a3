"""Chains: which breakdowns start from which ingredient, directly or through the cuts of others.

A breakdown of a cut belongs to the ingredient at which the chain of that cut starts: that of the breakdown in use which
makes the cut. One whose chain breaks off (nothing in use makes the cut) belongs to none. An ingredient that is broken
down is a primal.
"""

from collections import defaultdict
from collections.abc import Mapping

from service.domain.as_purchased import makers
from service.domain.breakdown import Breakdown, Output
from service.domain.kitchen import KitchenOnDay

NOWHERE = ""
"""Under this code stand those whose chain breaks off."""


def chains(kitchen: KitchenOnDay) -> Mapping[str, list[Breakdown]]:
    """By ingredient, its breakdowns: those of the ingredient itself first, those in use first, then by code."""
    made = makers(kitchen)
    found: defaultdict[str, list[Breakdown]] = defaultdict(list)
    for breakdown in sorted(kitchen.breakdowns.values(), key=_order):
        found[_first(breakdown, made).input.ingredient or NOWHERE].append(breakdown)
    return found


def first_of(breakdown: Breakdown, kitchen: KitchenOnDay) -> Breakdown:
    """The breakdown at which the chain of this one starts; where it breaks off, the last before that."""
    return _first(breakdown, makers(kitchen))


def _first(breakdown: Breakdown, made: Mapping[str, tuple[Breakdown, Output]]) -> Breakdown:
    seen = {breakdown.code}
    while (cut := breakdown.input.cut) is not None:
        if cut not in made or made[cut][0].code in seen:
            break
        breakdown, _ = made[cut]
        seen.add(breakdown.code)
    return breakdown


def _order(breakdown: Breakdown) -> tuple[bool, bool, str]:
    return (breakdown.input.ingredient is None, not breakdown.in_use, breakdown.code)
