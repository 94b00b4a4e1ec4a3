"""Which releases work on the schema: one row, which each migration sets to what it says of itself.

In no backup: it is a fact of the database's form, not of the ledger.
"""

from sqlalchemy import CheckConstraint, Column, Integer, PrimaryKeyConstraint, Table, Text

from service.persistence.tables.base import metadata

schema_support = Table(
    "schema_support", metadata,
    Column("id", Integer(), nullable=False, autoincrement=False),
    Column("works_from", Text(), nullable=False),
    PrimaryKeyConstraint("id"),
    CheckConstraint("id = 1", name="one_row"),
    sqlite_strict=True,
)
