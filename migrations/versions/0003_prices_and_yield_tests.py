"""Prices and yield tests: dated observations that are withdrawn or set aside, never erased.

Revision: 0003, after 0002.
"""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.schema import SchemaItem

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
LARGEST = 10**18 - 1


def upgrade() -> None:
    _make_prices()
    _make_yield_tests()


def downgrade() -> None:
    for name in ("yield_test_output", "yield_test", "price"):
        op.drop_table(name)


def _text(name: str) -> SchemaItem:
    return sa.Column(name, sa.Text(), nullable=False)


def _amount(name: str, least: int = 0, nullable: bool = False) -> list[SchemaItem]:
    check = sa.CheckConstraint(f"{name} BETWEEN {least} AND {LARGEST}", name=name)
    return [sa.Column(name, NUMBER, nullable=nullable), check]


def _reference(column: str, table: str, nullable: bool = False) -> list[SchemaItem]:
    return [sa.Column(column, sa.Integer(), nullable=nullable), sa.ForeignKeyConstraint([column], [f"{table}.id"])]


def _by_entry(prefix: str, nullable: bool = False) -> list[SchemaItem]:
    columns = [f"{prefix}_revision", f"{prefix}_entry"]
    return [
        *(sa.Column(column, NUMBER, nullable=nullable) for column in columns),
        sa.ForeignKeyConstraint(columns, ["entry.revision", "entry.number"]),
    ]


def _taken_back(word: str) -> list[SchemaItem]:
    columns = (f"{word}_revision", f"{word}_entry", f"{word}_reason")
    none = " AND ".join(f"{column} IS NULL" for column in columns)
    every = " AND ".join(f"{column} IS NOT NULL" for column in columns)
    return [
        *_by_entry(word, nullable=True),
        sa.Column(columns[2], sa.Text()),
        sa.CheckConstraint(f"({none}) OR ({every})", name=f"{word}_whole"),
        sa.CheckConstraint(f"{columns[0]} >= made_revision", name=f"{word}_after_made"),
    ]


def _make_prices() -> None:
    op.create_table(
        "price",
        *_by_entry("made"),
        *_reference("ingredient_id", "ingredient"),
        *_reference("supplier_id", "supplier"),
        *_amount("amount"),
        *_amount("pack_quantity", least=1),
        _text("pack_unit"),
        sa.Column("effective_from", DAY, nullable=False),
        sa.Column("effective_to", DAY),
        _text("reference"),
        *_taken_back("withdrawn"),
        sa.PrimaryKeyConstraint("made_revision", "made_entry"),
        sa.CheckConstraint("effective_to >= effective_from", name="ends_after_start"),
        sqlite_strict=True,
    )
    op.create_index("ix_price_ingredient_id", "price", ["ingredient_id"])


def _make_yield_tests() -> None:
    op.create_table(
        "yield_test",
        *_by_entry("made"),
        *_reference("breakdown_id", "breakdown"),
        sa.Column("tested_on", DAY, nullable=False),
        _text("unit"),
        *_amount("input_weight", least=1),
        *_amount("opened_weight", nullable=True),
        *_amount("minutes", nullable=True),
        sa.Column("pieces", sa.Integer(), nullable=False),
        _text("butcher"),
        *_reference("supplier_id", "supplier", nullable=True),
        _text("grade"),
        _text("note"),
        *_taken_back("set_aside"),
        sa.PrimaryKeyConstraint("made_revision", "made_entry"),
        sa.CheckConstraint("pieces >= 1", name="pieces"),
        sqlite_strict=True,
    )
    op.create_index("ix_yield_test_breakdown_id", "yield_test", ["breakdown_id"])
    op.create_table(
        "yield_test_output",
        sa.Column("made_revision", NUMBER, nullable=False),
        sa.Column("made_entry", NUMBER, nullable=False),
        sa.Column("position", sa.Integer(), nullable=False, autoincrement=False),
        *_reference("cut_id", "cut"),
        *_amount("weight"),
        sa.PrimaryKeyConstraint("made_revision", "made_entry", "position"),
        sa.ForeignKeyConstraint(["made_revision", "made_entry"],
                                ["yield_test.made_revision", "yield_test.made_entry"]),
        sa.CheckConstraint("position >= 1", name="position"),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
