"""The kinds of record that have versions: an identity table each, which references point to, and a version table."""

from sqlalchemy import CheckConstraint, Column, Integer, Table, Text
from sqlalchemy.schema import SchemaItem

from service.domain.breakdown import Method, Role, YieldsFrom
from service.persistence.column_types import Day, JsonText
from service.persistence.tables.base import (
    amount,
    choice,
    flag,
    identity_table,
    part_table,
    reference,
    version_table,
)

kitchen_settings = identity_table("kitchen_settings")
supplier = identity_table("supplier")
ingredient = identity_table("ingredient")
cut = identity_table("cut")
breakdown = identity_table("breakdown")
recipe = identity_table("recipe")
dish = identity_table("dish")
supplier_item = identity_table("supplier_item", longest=140)
"""Its code is the supplier's, a slash, and what the supplier calls the item."""


def _text(name: str) -> Column[str]:
    return Column(name, Text(), nullable=False)


def _exactly_one(*columns: str) -> CheckConstraint:
    named = " + ".join(f"CASE WHEN {column} IS NULL THEN 0 ELSE 1 END" for column in columns)
    return CheckConstraint(f"{named} = 1", name="names_one")


kitchen_settings_version = version_table(
    "kitchen_settings",
    _text("currency"),
    _text("time_zone"),
    _text("business_day_start"),
    *amount("default_tax_rate_percent"),
    *flag("menu_prices_include_tax"),
    *amount("labour_rate_per_hour", nullable=True),
    *amount("default_target_food_cost_percent"),
    *amount("price_step", nullable=True),
    *amount("scale_tolerance_percent"),
    *amount("price_change_limit_percent"),
    *amount("price_deviation_limit"),
    Column("closed_through", Day()),
    Column("section_targets", JsonText()),
)

supplier_version = version_table("supplier", _text("name"), _text("note"))

ingredient_version = version_table(
    "ingredient",
    _text("name"),
    _text("kind"),
    *choice("base_unit", ("kg", "l", "each")),
    Column("conversions", JsonText(), nullable=False),
    Column("allergens", JsonText()),
    Column("standard_codes", JsonText(), nullable=False),
    reference("preferred_supplier_id", "supplier", nullable=True),
)

supplier_item_version = version_table(
    "supplier_item",
    reference("supplier_id", "supplier"),
    _text("name"),
    reference("ingredient_id", "ingredient"),
    _text("pack_name"),
    *amount("pack_count", least=1),
    *amount("pack_quantity", least=1),
    _text("pack_unit"),
    _text("priced_per"),
    _text("gtin"),
)

breakdown_version = version_table(
    "breakdown",
    _text("name"),
    reference("input_ingredient_id", "ingredient", nullable=True),
    reference("input_cut_id", "cut", nullable=True),
    _exactly_one("input_ingredient_id", "input_cut_id"),
    *flag("in_use"),
    *choice("method", tuple(method.value for method in Method)),
    *choice("yields_from", tuple(source.value for source in YieldsFrom)),
    *amount("labour_minutes_per_kg"),
    *amount("packaging_per_kg"),
    Column("steps", JsonText(), nullable=False),
    Column("yields_from_last_tests", Integer()),
    CheckConstraint("yields_from_last_tests >= 1", name="yields_from_last_tests"),
    Column("yields_from_tests_since", Day()),
    CheckConstraint("yields_from_last_tests IS NULL OR yields_from_tests_since IS NULL", name="yields_from_one_choice"),
)

breakdown_output = part_table(
    "breakdown_output", "breakdown_version",
    reference("cut_id", "cut"),
    _text("name"),
    *choice("role", tuple(role.value for role in Role)),
    *amount("expected_yield"),
    Column("uses", JsonText(), nullable=False),
    *amount("market_value", least=None, nullable=True),
    *amount("split_off_value", least=None, nullable=True),
    *amount("relative_value", least=None, nullable=True),
    *amount("finishing_cost", least=None),
    *amount("credit_value", least=None, nullable=True),
    *amount("disposal_cost", least=None),
    *amount("portion_weight_kg", least=1, nullable=True),
)


def _line_table(owner: str) -> Table:
    items: list[SchemaItem] = [
        *amount("quantity"),
        _text("unit"),
        reference("ingredient_id", "ingredient", nullable=True),
        reference("cut_id", "cut", nullable=True),
        reference("recipe_id", "recipe", nullable=True),
        _exactly_one("ingredient_id", "cut_id", "recipe_id"),
        *amount("yield_percent", least=1),
        *amount("cooking_yield_percent", least=1),
        _text("note"),
    ]
    return part_table(f"{owner}_line", f"{owner}_version", *items)


recipe_version = version_table(
    "recipe",
    _text("name"),
    *amount("makes_quantity", least=1),
    _text("makes_unit"),
    *amount("labour_minutes"),
    Column("conversions", JsonText(), nullable=False),
    _text("note"),
)
recipe_line = _line_table("recipe")

dish_version = version_table(
    "dish",
    _text("name"),
    *amount("portions", least=1),
    _text("section"),
    *amount("allowance_percent"),
    *amount("labour_minutes"),
    *amount("menu_price", nullable=True),
    *amount("tax_rate_percent", nullable=True),
    *amount("target_food_cost_percent", nullable=True),
    Column("pos_code", Text()),
)
dish_line = _line_table("dish")
