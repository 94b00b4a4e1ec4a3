"""The timeline of figures: roll the days up to on_date(r), then apply r, and so on, up to today.

A place on it is (revision, day): what is known, and the day that the figures are of. From one place to the next either
a day begins, and what was scheduled for it comes into force with no write, or a revision is applied. Between two days
on which something starts or has ended nothing moves, so only such days are places.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from service.domain.change_causes import OF_FIGURES, Cause
from service.domain.days_of_change import ONE_DAY, days_of_change
from service.domain.history import Histories, version_in_force
from service.domain.kitchen import PLURALS, Kitchen


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """A place on the timeline: as known at `revision`, as of `day`."""

    revision: int
    day: date


BEFORE_THE_FIRST = Place(0, date.min)


class MovedBy(StrEnum):
    """What leads from one place to another."""

    REVISION = "revision"
    DATE = "date"
    START = "start"
    """The beginning of a feed: whatever is on the menu there comes onto it."""
    EARLIER = "earlier"
    """All that came before the days that a key may look back at, in one."""


def next_day_of_figures(kitchen: Kitchen, after: date, up_to: date) -> date | None:
    """The first day after one, up to another, on which a figure can change with no write; None where there is none."""
    days = {*days_of_change(kitchen), *(v.effective_from for v in kitchen.settings if v.effective_from is not None)}
    return min((day for day in days if after < day <= up_to), default=None)


def started_on(kitchen: Kitchen, day: date) -> list[Cause]:
    """All that starts on a day or ended on the day before, in the order recorded."""
    return sorted({*_records(kitchen, day), *_prices(kitchen, day), *_tests(kitchen, day)}, key=lambda one: one.made)


def _records(kitchen: Kitchen, day: date) -> Iterator[Cause]:
    settings = version_in_force(kitchen.settings, day)
    if settings is not None and settings.effective_from == day:
        yield Cause("settings", "settings", "starts", settings.made)
    for kind, plural in PLURALS.items():
        histories: Histories[Any] = getattr(kitchen, plural)
        for code, history in histories.items():
            version = version_in_force(history, day)
            if kind in OF_FIGURES and version is not None and version.effective_from == day:
                yield Cause(kind, code, "ends" if version.retired else "starts", version.made)


def _prices(kitchen: Kitchen, day: date) -> Iterator[Cause]:
    for code, prices in kitchen.prices.items():
        for price in prices:
            if price.withdrawn is not None:
                continue
            if price.effective_from == day:
                yield Cause("price", code, "starts", price.made)
            elif price.effective_to is not None and price.effective_to + ONE_DAY == day:
                yield Cause("price", code, "ends", price.made)


def _tests(kitchen: Kitchen, day: date) -> Iterator[Cause]:
    for code, tests in kitchen.yield_tests.items():
        for test in tests:
            if test.tested_on == day and test.set_aside is None:
                yield Cause("yield_test", code, "starts", test.made)
