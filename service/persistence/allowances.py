"""The `Bookings` port: one statement adds a lease to a holder's minute and says what is booked of it by then.

It waits for other leases, never behind a long writer. A worker that was killed loses what it had leased and no more.
On a copy that is only read nothing can be booked: each worker counts by itself what it leases there. A role that may
not book here serves on a sixteenth of each allowance (see `use_cases.allowances`), and the log says why once a minute.
"""

import logging

from sqlalchemy import Connection, text

from service.persistence.engines import Engines
from service.use_cases.ledger_unavailable import GrantMissing, OnlyReads

_LOG = logging.getLogger("seamcost.allowances")

PATIENCE_MS = 100
"""Leases of other workers are over by then, several of them; who waits for a lease waits so long at most."""
KEPT_SECONDS = 600
"""Minutes that start so long before the one that is booked are forgotten: longer than clocks of hosts differ."""

_BOOK = text("""
INSERT INTO allowance (starts, holder, booked) VALUES (:starts, :holder, :units)
ON CONFLICT (starts, holder) DO UPDATE SET booked = allowance.booked + excluded.booked
RETURNING booked
""")
_FORGET = text("DELETE FROM allowance WHERE starts < :before")


class SqlBookings:
    """What was leased, in its table. One per process; its threads share it."""

    def __init__(self, engines: Engines) -> None:
        self._engines = engines
        self._newest = self._told = 0
        self._alone: dict[str, tuple[int, int]] = {}

    def book(self, holder: str, minute: int, units: int) -> int:
        try:
            return self._book(holder, minute, units)
        except OnlyReads:
            return self._count_alone(holder, minute, units)
        except GrantMissing as error:
            self._tell(minute, error)
            raise

    def _count_alone(self, holder: str, minute: int, units: int) -> int:
        if minute > self._newest:
            self._newest = minute
            for other, (counted, _) in self._alone.copy().items():
                if counted < minute - KEPT_SECONDS:
                    self._alone.pop(other, None)
        counted, booked = self._alone.get(holder, (minute, 0))
        booked = units + (booked if counted == minute else 0)
        self._alone[holder] = minute, booked
        return booked

    def _book(self, holder: str, minute: int, units: int) -> int:
        with self._engines.write_without_waiting(PATIENCE_MS) as connection:
            self._forget(connection, minute)
            return int(connection.execute(
                _BOOK, {"starts": minute, "holder": holder, "units": units}).scalar_one())

    def _tell(self, minute: int, error: GrantMissing) -> None:
        """Say once a minute and worker what somebody has to mend: requests go on, and nobody else would."""
        if minute > self._told:
            self._told = minute
            _LOG.error("no allowance can be booked: keys get a sixteenth of theirs", exc_info=error)

    def _forget(self, connection: Connection, minute: int) -> None:
        """Forget what has long passed, once a minute and worker."""
        if minute > self._newest:
            connection.execute(_FORGET, {"before": minute - KEPT_SECONDS})
            self._newest = minute
