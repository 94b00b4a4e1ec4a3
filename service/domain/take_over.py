"""Taking over: a cut is made by one breakdown in use at a time.

A breakdown put in use takes over, on the day it starts, from others in use that make any of the same cuts.
"""

from dataclasses import replace
from datetime import date

from service.domain.breakdown import Breakdown
from service.domain.history import record_on
from service.domain.kitchen import Kitchen


def taken_over_by(breakdown: Breakdown, kitchen: Kitchen, day: date) -> tuple[Breakdown, ...]:
    """The others in use on `day` that make one of its cuts, each put out of use; none when it is not in use itself."""
    if not breakdown.in_use:
        return ()
    cuts = {output.cut for output in breakdown.cuts}
    standing = (record_on(history, day) for code, history in kitchen.breakdowns.items() if code != breakdown.code)
    return tuple(replace(other, in_use=False) for other in standing
                 if other is not None and other.in_use and cuts & {output.cut for output in other.cuts})
