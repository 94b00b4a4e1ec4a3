"""Sales: what the POS sold on a business date, as it was sent. A later sending replaces an earlier one; both are kept.

A line names the POS's own code and no dish: which dish that is is told by the menu when it is asked.
"""

from sqlalchemy import CheckConstraint, Column, ForeignKey, Index, PrimaryKeyConstraint, Table, Text, text

from service.domain.sales import SaleKind
from service.persistence.column_types import Day
from service.persistence.tables.base import Number, amount, choice, made_by_entry, metadata, part_table

sales_day = Table(
    "sales_day", metadata,
    *made_by_entry(),
    Column("business_date", Day(), nullable=False),
    Column("replaced_revision", Number, ForeignKey("revision.number")),
    PrimaryKeyConstraint("made_revision", "made_entry"),
    CheckConstraint("replaced_revision > made_revision", name="replaced_after_made"),
    sqlite_strict=True,
    sqlite_with_rowid=False,
)
Index("ix_sales_day_business_date", sales_day.c.business_date)
_STANDING = text("replaced_revision IS NULL")
Index("uq_sales_day_standing", sales_day.c.business_date, unique=True, sqlite_where=_STANDING,
      postgresql_where=_STANDING)

sales_line = part_table(
    "sales_line", "sales_day",
    Column("pos_code", Text(), nullable=False),
    *amount("quantity", least=None),
    *amount("net_takings", least=None),
    *choice("kind", tuple(kind.value for kind in SaleKind)),
)
