"""Sales: what the use cases need to keep and find what the POS sold."""

from typing import Protocol


class SalesBook(Protocol):
    """The sales of a ledger, outside of a write that takes a revision."""


class SalesWork(Protocol):
    """The sales within a write: read under the lock, and stored with the revision whose entry says so."""
