"""Bounds that keep every figure quick to compute and short enough to explain.

At most 100 lines a record, 20 levels and 2 000 distinct records below a dish. A level is a breakdown or a recipe: an
ingredient stands on level 0, a dish adds none. Records are ingredients, breakdowns and recipes; a cut belongs to the
breakdown that makes it.

Only what stands above a changed record can have passed a bound, and each record is visited once: the records below
are kept as sets of bits, so that a lattice of shared recipes costs no more than a list of them.
"""

from collections.abc import Iterable, Sequence

from service.domain.errors import LimitPassed
from service.domain.network import Key
from service.domain.uses import Uses, depth_first, standing_on

LEVELS = 20
LINES = 100
RECORDS_BELOW = 2_000

_ADDS_A_LEVEL = frozenset(("breakdown", "recipe"))


def check_lines(lines: Sequence[object], pointer: str = "#/lines") -> None:
    """Hold one record to its number of lines (or outputs).

    Raises:  LimitPassed.
    """
    if len(lines) > LINES:
        raise LimitPassed(
            f"{len(lines)} lines are more than the {LINES} a record may have; move some into a recipe of their own.",
            pointer, limit="lines", at_most=LINES, found=len(lines))


def check_bounds(uses: Uses, changed: Iterable[Key]) -> None:
    """Hold everything that stands on the changed records, themselves included, to its levels and records below.

    The uses hold no loop (`find_loop` comes first); round one the count of levels would mean nothing.

    Raises:  LimitPassed naming the limit and the record that passes it.
    """
    order = depth_first(uses, sorted(standing_on(uses, changed)))
    _check_levels(uses, order)
    _check_records_below(uses, order)


def levels_of(uses: Uses, order: Sequence[Key]) -> dict[Key, int]:
    """The level of each key of `order`, in which what is used stands before its users."""
    levels: dict[Key, int] = {}
    for key in order:
        below = max([levels.get(used, 0) for used in uses.get(key, ())], default=0)
        levels[key] = below + (key[0] in _ADDS_A_LEVEL)
    return levels


def _check_levels(uses: Uses, order: Sequence[Key]) -> None:
    for (kind, code), level in levels_of(uses, order).items():
        if level > LEVELS:
            raise LimitPassed(
                f"The {kind} {code} would stand on level {level}; breakdowns and recipes nest at most {LEVELS} levels.",
                limit="levels", at_most=LEVELS, found=level, kind=kind, record=code)


def _check_records_below(uses: Uses, order: Sequence[Key]) -> None:
    below: dict[Key, int] = {}
    bits = iter(range(len(order)))
    for key in order:
        kind, code = key
        found = 0
        for used in uses.get(key, ()):
            found |= below.get(used, 0)
        if found.bit_count() > RECORDS_BELOW:
            raise LimitPassed(
                f"The {kind} {code} would stand on {found.bit_count()} records; at most {RECORDS_BELOW} may.",
                limit="records_below", at_most=RECORDS_BELOW, found=found.bit_count(), kind=kind, record=code)
        below[key] = found if kind in ("cut", "dish") else found | 1 << next(bits)
