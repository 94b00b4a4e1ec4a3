"""What is observed and dated, and has no versions: prices and yield tests. A wrong one is withdrawn or set aside."""

from sqlalchemy import CheckConstraint, Column, Index, Integer, PrimaryKeyConstraint, Table, Text, text
from sqlalchemy.schema import SchemaItem

from service.persistence.column_types import Day
from service.persistence.tables.base import amount, made_by_entry, metadata, part_table, reference


def _taken_back(word: str) -> list[SchemaItem]:
    """Withdrawn or set aside: by which entry and why; all three or none."""
    columns = (f"{word}_revision", f"{word}_entry", f"{word}_reason")
    none = " AND ".join(f"{column} IS NULL" for column in columns)
    every = " AND ".join(f"{column} IS NOT NULL" for column in columns)
    return [
        *made_by_entry(word, nullable=True),
        Column(columns[2], Text()),
        CheckConstraint(f"({none}) OR ({every})", name=f"{word}_whole"),
        CheckConstraint(f"{columns[0]} >= made_revision", name=f"{word}_after_made"),
    ]


price = Table(
    "price", metadata,
    *made_by_entry(),
    reference("ingredient_id", "ingredient"),
    reference("supplier_id", "supplier"),
    *amount("amount"),
    *amount("pack_quantity", least=1),
    Column("pack_unit", Text(), nullable=False),
    Column("effective_from", Day(), nullable=False),
    Column("effective_to", Day()),
    Column("reference", Text(), nullable=False),
    *_taken_back("withdrawn"),
    PrimaryKeyConstraint("made_revision", "made_entry"),
    CheckConstraint("effective_to >= effective_from", name="ends_after_start"),
    sqlite_strict=True,
)
Index("ix_price_ingredient_id", price.c.ingredient_id)
_WITHDRAWN = text("withdrawn_revision IS NOT NULL")
Index("ix_price_withdrawn_revision", price.c.withdrawn_revision, sqlite_where=_WITHDRAWN, postgresql_where=_WITHDRAWN)

yield_test = Table(
    "yield_test", metadata,
    *made_by_entry(),
    reference("breakdown_id", "breakdown"),
    Column("tested_on", Day(), nullable=False),
    Column("unit", Text(), nullable=False),
    *amount("input_weight", least=1),
    *amount("opened_weight", nullable=True),
    *amount("minutes", nullable=True),
    Column("pieces", Integer(), nullable=False),
    Column("butcher", Text(), nullable=False),
    reference("supplier_id", "supplier", nullable=True),
    Column("grade", Text(), nullable=False),
    Column("note", Text(), nullable=False),
    *_taken_back("set_aside"),
    PrimaryKeyConstraint("made_revision", "made_entry"),
    CheckConstraint("pieces >= 1", name="pieces"),
    sqlite_strict=True,
)
Index("ix_yield_test_breakdown_id", yield_test.c.breakdown_id)

yield_test_output = part_table(
    "yield_test_output", "yield_test",
    reference("cut_id", "cut"),
    *amount("weight"),
)
