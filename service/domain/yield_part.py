"""A part of the yield tests: those of a butcher, of a supplier's goods, of a grade; and all of them, group by group.

Rules that always hold: words are compared as they are recorded; a test that names no butcher, supplier or grade is in
the group of None; groups come by name, that of None last.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from service.domain.yield_test import YieldTest

BY = ("butcher", "supplier", "grade")


@dataclass(frozen=True, slots=True)
class Part:
    """Which tests are looked at: None takes all, an empty text those that name none."""

    butcher: str | None = None
    supplier: str | None = None
    grade: str | None = None

    @property
    def is_whole(self) -> bool:
        return self == Part()

    def of(self, tests: Iterable[YieldTest]) -> tuple[YieldTest, ...]:
        """The tests of the part, in the order given."""
        return tuple(test for test in tests if all(
            getattr(self, what) is None or (getattr(test, what) or "") == getattr(self, what) for what in BY))


@dataclass(frozen=True, slots=True)
class Group:
    """The tests of one butcher, supplier or grade; `value` None: those that name none."""

    value: str | None
    tests: tuple[YieldTest, ...]


def groups(tests: Sequence[YieldTest], by: str) -> tuple[Group, ...]:
    """The tests by butcher, supplier or grade, each group in the order given."""
    found: dict[str, list[YieldTest]] = {}
    for test in tests:
        found.setdefault(getattr(test, by) or "", []).append(test)
    in_order = sorted(found, key=lambda value: (not value, value))
    return tuple(Group(value or None, tuple(found[value])) for value in in_order)
