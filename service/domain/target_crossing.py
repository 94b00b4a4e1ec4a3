"""When a dish crosses its target: one rule for alerts and webhooks.

Rules that always hold: a target is crossed when the published `within_target` of a dish turns, and not again while it
stays so; a figure that is not known in between crosses nothing, so that it is compared with the last one that was; a
dish whose first known figure is outside its target crosses it; one that leaves the menu outside its target is outside
no more, and is not back within it either.
"""

from enum import StrEnum


class Crossing(StrEnum):
    """What became of a dish and its target."""

    OUTSIDE = "outside"
    BACK_WITHIN = "back_within"
    LEFT_MENU = "left_menu"


def crossing(was_outside: bool, on_menu: bool, within: bool | None) -> Crossing | None:
    """What a dish does that was outside its target, or not, when it was last known. None: it crosses nothing.

    `within` is None where the figure is not known.
    """
    if not was_outside:
        return Crossing.OUTSIDE if on_menu and within is False else None
    if not on_menu:
        return Crossing.LEFT_MENU
    return Crossing.BACK_WITHIN if within else None
