"""Suppliers' items; and in the settings the limits of a price review and the last day of the closed period.

Settings that are recorded already get the limits that hold unless others are given. SQLite cannot add a column that
must hold something and has no default, nor take one away that a check names: there the settings are made anew.

Revision: 0004, after 0003.
"""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.schema import SchemaItem

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
LARGEST = 10**18 - 1
SETTINGS, BEFORE = "kitchen_settings_version", "kitchen_settings_before"
LIMITS = {"price_change_limit_percent": 25_000_000, "price_deviation_limit": 3_000_000}
"""In millionths."""
KEPT = (
    "made_revision", "made_entry", "kitchen_settings_id", "replaced_revision", "effective_from", "retired", "currency",
    "time_zone", "business_day_start", "default_tax_rate_percent", "menu_prices_include_tax", "labour_rate_per_hour",
    "default_target_food_cost_percent", "price_step", "scale_tolerance_percent")


def upgrade() -> None:
    if op.get_bind().dialect.name == "sqlite":
        closed = [sa.Column("closed_through", DAY)]
        _make_settings_anew([*(item for name in LIMITS for item in _amount(name)), *closed], LIMITS)
    else:
        for name, limit in LIMITS.items():
            op.execute(
                f"ALTER TABLE {SETTINGS} ADD COLUMN {name} BIGINT NOT NULL DEFAULT {limit} "
                f"CONSTRAINT ck_{SETTINGS}_{name} CHECK ({name} BETWEEN 0 AND {LARGEST})")
            op.execute(f"ALTER TABLE {SETTINGS} ALTER COLUMN {name} DROP DEFAULT")
        op.execute(f"ALTER TABLE {SETTINGS} ADD COLUMN closed_through DATE")
    _make_supplier_items()


def downgrade() -> None:
    op.drop_table("supplier_item_version")
    op.drop_table("supplier_item")
    if op.get_bind().dialect.name == "sqlite":
        _make_settings_anew([], {})
    else:
        for name in (*LIMITS, "closed_through"):
            op.execute(f"ALTER TABLE {SETTINGS} DROP COLUMN {name}")


def _text(name: str) -> SchemaItem:
    return sa.Column(name, sa.Text(), nullable=False)


def _amount(name: str, least: int = 0, nullable: bool = False) -> list[SchemaItem]:
    check = sa.CheckConstraint(f"{name} BETWEEN {least} AND {LARGEST}", name=name)
    return [sa.Column(name, NUMBER, nullable=nullable), check]


def _flag(name: str) -> list[SchemaItem]:
    return [sa.Column(name, sa.Integer(), nullable=False), sa.CheckConstraint(f"{name} IN (0, 1)", name=name)]


def _reference(column: str, table: str) -> list[SchemaItem]:
    return [sa.Column(column, sa.Integer(), nullable=False), sa.ForeignKeyConstraint([column], [f"{table}.id"])]


def _version_table(identity: str, *items: SchemaItem) -> None:
    op.create_table(
        f"{identity}_version",
        sa.Column("made_revision", NUMBER, nullable=False),
        sa.Column("made_entry", NUMBER, nullable=False),
        sa.ForeignKeyConstraint(["made_revision", "made_entry"], ["entry.revision", "entry.number"]),
        *_reference(f"{identity}_id", identity),
        sa.Column("replaced_revision", NUMBER),
        sa.ForeignKeyConstraint(["replaced_revision"], ["revision.number"]),
        sa.Column("effective_from", DAY),
        *_flag("retired"),
        *items,
        sa.PrimaryKeyConstraint("made_revision", "made_entry"),
        sa.CheckConstraint("replaced_revision >= made_revision", name="replaced_after_made"),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )


def _index_versions(identity: str) -> None:
    name, identity_id = f"{identity}_version", f"{identity}_id"
    op.create_index(f"ix_{name}_{identity_id}", name, [identity_id])
    for suffix, condition, keys in (
        ("start", "replaced_revision IS NULL AND effective_from IS NOT NULL", [identity_id, "effective_from"]),
        ("beginning", "replaced_revision IS NULL AND effective_from IS NULL", [identity_id]),
    ):
        where = sa.text(condition)
        op.create_index(f"uq_{name}_{suffix}", name, keys, unique=True, sqlite_where=where, postgresql_where=where)


def _make_settings_anew(added: list[SchemaItem], filled_with: dict[str, int]) -> None:
    """On SQLite: move the rows into a table with other columns. Indexes follow the old table away."""
    op.rename_table(SETTINGS, BEFORE)
    _version_table(
        "kitchen_settings",
        _text("currency"),
        _text("time_zone"),
        _text("business_day_start"),
        *_amount("default_tax_rate_percent"),
        *_flag("menu_prices_include_tax"),
        *_amount("labour_rate_per_hour", nullable=True),
        *_amount("default_target_food_cost_percent"),
        *_amount("price_step", nullable=True),
        *_amount("scale_tolerance_percent"),
        *added,
    )
    columns = ", ".join((*KEPT, *filled_with))
    values = ", ".join((*KEPT, *map(str, filled_with.values())))
    op.execute(f"INSERT INTO {SETTINGS} ({columns}) SELECT {values} FROM {BEFORE}")  # noqa: S608
    op.drop_table(BEFORE)
    _index_versions("kitchen_settings")


def _make_supplier_items() -> None:
    op.create_table(
        "supplier_item",
        sa.Column("id", sa.Integer(), nullable=False, autoincrement=False),
        _text("code"),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("code"),
        sa.CheckConstraint("length(code) BETWEEN 1 AND 140", name="code"),
        sqlite_strict=True,
    )
    _version_table(
        "supplier_item",
        *_reference("supplier_id", "supplier"),
        _text("name"),
        *_reference("ingredient_id", "ingredient"),
        _text("pack_name"),
        *_amount("pack_count", least=1),
        *_amount("pack_quantity", least=1),
        _text("pack_unit"),
        _text("priced_per"),
        _text("gtin"),
    )
    _index_versions("supplier_item")
