"""The records: an identity table and a version table per kind, with the outputs and lines of versions.

Revision: 0002, after 0001.
"""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.schema import SchemaItem

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
DAY = sa.Date().with_variant(sa.Text(), "sqlite")
LARGEST = 10**18 - 1
KINDS = ("kitchen_settings", "supplier", "ingredient", "breakdown", "recipe", "dish")
PARTS = ("breakdown_output", "recipe_line", "dish_line")


def upgrade() -> None:
    for name in (*KINDS, "cut"):
        _identity_table(name)
    _make_settings_and_buying()
    _make_breakdowns()
    _make_recipes()
    _make_dishes()


def downgrade() -> None:
    for name in PARTS:
        op.drop_table(name)
    for name in KINDS:
        op.drop_table(f"{name}_version")
    for name in (*KINDS, "cut"):
        op.drop_table(name)


def _text(name: str, nullable: bool = False) -> SchemaItem:
    return sa.Column(name, sa.Text(), nullable=nullable)


def _amount(name: str, least: int = 0, nullable: bool = False) -> list[SchemaItem]:
    check = sa.CheckConstraint(f"{name} BETWEEN {least} AND {LARGEST}", name=name)
    return [sa.Column(name, NUMBER, nullable=nullable), check]


def _flag(name: str) -> list[SchemaItem]:
    return [sa.Column(name, sa.Integer(), nullable=False), sa.CheckConstraint(f"{name} IN (0, 1)", name=name)]


def _choice(name: str, *words: str) -> list[SchemaItem]:
    listed = ", ".join(f"'{word}'" for word in words)
    return [_text(name), sa.CheckConstraint(f"{name} IN ({listed})", name=name)]


def _reference(column: str, table: str, nullable: bool = False) -> list[SchemaItem]:
    return [sa.Column(column, sa.Integer(), nullable=nullable), sa.ForeignKeyConstraint([column], [f"{table}.id"])]


def _names_one(*columns: str) -> SchemaItem:
    named = " + ".join(f"CASE WHEN {column} IS NULL THEN 0 ELSE 1 END" for column in columns)
    return sa.CheckConstraint(f"{named} = 1", name="names_one")


def _identity_table(name: str) -> None:
    op.create_table(
        name,
        sa.Column("id", sa.Integer(), nullable=False, autoincrement=False),
        _text("code"),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("code"),
        sa.CheckConstraint("length(code) BETWEEN 1 AND 64", name="code"),
        sqlite_strict=True,
    )


def _version_table(identity: str, *items: SchemaItem) -> None:
    name, identity_id = f"{identity}_version", f"{identity}_id"
    op.create_table(
        name,
        sa.Column("made_revision", NUMBER, nullable=False),
        sa.Column("made_entry", NUMBER, nullable=False),
        sa.ForeignKeyConstraint(["made_revision", "made_entry"], ["entry.revision", "entry.number"]),
        *_reference(identity_id, identity),
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
    op.create_index(f"ix_{name}_{identity_id}", name, [identity_id])
    for suffix, condition, keys in (
        ("start", "replaced_revision IS NULL AND effective_from IS NOT NULL", [identity_id, "effective_from"]),
        ("beginning", "replaced_revision IS NULL AND effective_from IS NULL", [identity_id]),
    ):
        where = sa.text(condition)
        op.create_index(f"uq_{name}_{suffix}", name, keys, unique=True, sqlite_where=where, postgresql_where=where)


def _part_table(name: str, owner: str, *items: SchemaItem) -> None:
    op.create_table(
        name,
        sa.Column("made_revision", NUMBER, nullable=False),
        sa.Column("made_entry", NUMBER, nullable=False),
        sa.Column("position", sa.Integer(), nullable=False, autoincrement=False),
        *items,
        sa.PrimaryKeyConstraint("made_revision", "made_entry", "position"),
        sa.ForeignKeyConstraint(["made_revision", "made_entry"], [f"{owner}.made_revision", f"{owner}.made_entry"]),
        sa.CheckConstraint("position >= 1", name="position"),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )


def _make_settings_and_buying() -> None:
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
    )
    _version_table("supplier", _text("name"), _text("note"))
    _version_table(
        "ingredient",
        _text("name"),
        _text("kind"),
        *_choice("base_unit", "kg", "l", "each"),
        _text("conversions"),
        _text("allergens", nullable=True),
        _text("standard_codes"),
        *_reference("preferred_supplier_id", "supplier", nullable=True),
    )


def _make_breakdowns() -> None:
    _version_table(
        "breakdown",
        _text("name"),
        *_reference("input_ingredient_id", "ingredient", nullable=True),
        *_reference("input_cut_id", "cut", nullable=True),
        _names_one("input_ingredient_id", "input_cut_id"),
        *_flag("in_use"),
        *_choice("method", "weight", "market_value", "net_realisable_value", "constant_margin", "relative_value"),
        *_choice("yields_from", "declared", "tests"),
        *_amount("labour_minutes_per_kg"),
        *_amount("packaging_per_kg"),
        _text("steps"),
    )
    _part_table(
        "breakdown_output", "breakdown_version",
        *_reference("cut_id", "cut"),
        _text("name"),
        *_choice("role", "main", "trim", "by_product", "loss"),
        *_amount("expected_yield"),
        _text("uses"),
        *_amount("market_value", least=-LARGEST, nullable=True),
        *_amount("split_off_value", least=-LARGEST, nullable=True),
        *_amount("relative_value", least=-LARGEST, nullable=True),
        *_amount("finishing_cost", least=-LARGEST),
        *_amount("credit_value", least=-LARGEST, nullable=True),
        *_amount("disposal_cost", least=-LARGEST),
        *_amount("portion_weight_kg", least=1, nullable=True),
    )


def _line_table(owner: str) -> None:
    _part_table(
        f"{owner}_line", f"{owner}_version",
        *_amount("quantity"),
        _text("unit"),
        *_reference("ingredient_id", "ingredient", nullable=True),
        *_reference("cut_id", "cut", nullable=True),
        *_reference("recipe_id", "recipe", nullable=True),
        _names_one("ingredient_id", "cut_id", "recipe_id"),
        *_amount("yield_percent", least=1),
        *_amount("cooking_yield_percent", least=1),
        _text("note"),
    )


def _make_recipes() -> None:
    _version_table(
        "recipe",
        _text("name"),
        *_amount("makes_quantity", least=1),
        _text("makes_unit"),
        *_amount("labour_minutes"),
        _text("conversions"),
        _text("note"),
    )
    _line_table("recipe")


def _make_dishes() -> None:
    _version_table(
        "dish",
        _text("name"),
        *_amount("portions", least=1),
        _text("section"),
        *_amount("allowance_percent"),
        *_amount("labour_minutes"),
        *_amount("menu_price", nullable=True),
        *_amount("tax_rate_percent", nullable=True),
        *_amount("target_food_cost_percent", nullable=True),
        _text("pos_code", nullable=True),
    )
    _line_table("dish")
