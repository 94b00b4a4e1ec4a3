"""Bookings of allowances in memory, for tests of what is counted on them: several workers can share them."""

from service.use_cases.ledger_unavailable import LedgerUnavailable


class BookedInMemory:
    """As the table has it; while `locked`, nothing can be booked."""

    def __init__(self) -> None:
        self.booked: dict[tuple[str, int], int] = {}
        self.statements = 0
        self.locked = False

    def book(self, holder: str, minute: int, units: int) -> int:
        self.statements += 1
        if self.locked:
            raise LedgerUnavailable("The database is locked.")
        self.booked[holder, minute] = self.booked.get((holder, minute), 0) + units
        return self.booked[holder, minute]
