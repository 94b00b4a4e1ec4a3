"""The ledger cannot serve just now. Not a fault of the request: nothing was written, and it may be sent again."""


class LedgerUnavailable(Exception):
    """The database is busy, full, gone or not answering in time."""


class LedgerNotMigrated(LedgerUnavailable):
    """The database is not (yet) what this release works on: `seamcost migrate` makes it so."""
