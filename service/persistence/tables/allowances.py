"""What was leased of the allowances: a row for each holder and minute, off the ledger, forgotten after some minutes."""

from sqlalchemy import CheckConstraint, Column, PrimaryKeyConstraint, Table, Text

from service.persistence.tables.base import Number, metadata

allowance = Table(
    "allowance", metadata,
    Column("starts", Number, nullable=False, autoincrement=False),
    Column("holder", Text(), nullable=False),
    Column("booked", Number, nullable=False),
    PrimaryKeyConstraint("starts", "holder"),
    CheckConstraint("booked >= 0", name="booked"),
    sqlite_strict=True,
    sqlite_with_rowid=False,
)
