"""The closed period: figures up to the settings' `closed_through` are final, and no write may change one of them.

One rule for every write: what counts from a day on is refused when that day is closed. Whether it would in truth move a
digit is not asked; finance has signed those figures, and who wants to change them moves `closed_through` first, which
the ledger then shows.
"""

from datetime import date, timedelta

from service.domain.errors import PeriodClosed
from service.domain.kitchen import Kitchen


def period_fault(
    kitchen: Kitchen, day: date, what: str, pointer: str | None = None, mend: str = "start it on {next_day} or later"
) -> PeriodClosed | None:
    """Why `what` may not be recorded if it counts from `day` on; None while that day is open.

    Shape:   `mend` may name `{next_day}`, the first day that is open.
    """
    closed = kitchen.settings_on(day).closed_through
    if closed is None or day > closed:
        return None
    mended = mend.format(next_day=closed + timedelta(days=1))
    return PeriodClosed(f"{what} would change figures of a period that is closed through {closed}: {mended}, or have "
                        "`closed_through` moved in the settings.", pointer, closed_through=closed)
