"""The ledger cannot serve just now. Not a fault of the request: unless it says otherwise nothing was written, and it
may be sent again."""


class LedgerUnavailable(Exception):
    """The database is busy, full, gone or not answering in time."""


class LedgerFull(LedgerUnavailable):
    """There is no room for the write. Reads go on; so do writes, once there is room."""


class NeedsAHand(LedgerUnavailable):
    """To ask again does not help: whoever runs the service has to do something first, which the text says."""


class LedgerDamaged(NeedsAHand):
    """The database finds its own files damaged: somebody has to restore a backup."""


class GrantMissing(NeedsAHand):
    """The role that the service connects as may not do this in the database: somebody has to grant it."""


class LedgerNotMigrated(LedgerUnavailable):
    """The database is not what this release works on: it has still to be migrated, or is too new."""


class Undone(LedgerUnavailable):
    """The database undid the whole transaction, since it crossed another one: the same again may well go through."""


class OnlyReads(LedgerUnavailable):
    """The database is a copy that is only read: a standby, or a server that was set so."""


class MayBeRecorded(LedgerUnavailable):
    """The database was lost while it was told to commit: what was asked is recorded whole, or not at all."""
