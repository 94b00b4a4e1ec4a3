"""Taking over: a cut is made by one breakdown in use at a time.

A breakdown put in use takes over, on the day it starts, from others in use that make any of the same cuts.
"""

from dataclasses import replace
from datetime import date

from service.domain.breakdown import Breakdown
from service.domain.history import History, record_on
from service.domain.kitchen import Kitchen


def taken_over_by(breakdown: Breakdown, kitchen: Kitchen, day: date) -> tuple[Breakdown, ...]:
    """The others in use on `day` that make one of its cuts, each put out of use; none when it is not in use itself."""
    if not breakdown.in_use:
        return ()
    cuts = {output.cut for output in breakdown.cuts}
    ever = (history for code, history in kitchen.breakdowns.items() if code != breakdown.code and _ever(history, cuts))
    standing = (record_on(history, day) for history in ever)
    return tuple(replace(other, in_use=False) for other in standing
                 if other is not None and other.in_use and cuts & {output.cut for output in other.cuts})


def _ever(history: History[Breakdown], cuts: set[str]) -> bool:
    """Whether any of the versions lists one of the cuts: few do, and only of those it matters what holds on a day."""
    for version in history:
        for output in version.record.outputs:
            if output.cut in cuts:
                return True
    return False
