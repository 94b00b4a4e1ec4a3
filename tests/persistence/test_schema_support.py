"""What each migration says of the releases that work on it, and whether it is so: expand first, contract later."""

import re
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from sqlalchemy import inspect

from service.persistence.backup import backup
from service.persistence.engines import Engines, open_engines
from service.persistence.migrating import migrate
from service.persistence.restoring import restore
from service.persistence.running_migrations import alembic_config, scripts_of
from service.persistence.schema_fit import fits, newest_version
from service.use_cases.ledger_unavailable import LedgerNotMigrated
from tests.reliability.next_release import EXPANDS, next_release

SAYS_SO_FROM = "0014"
NEWEST = newest_version() or ""
MIGRATIONS: list[ModuleType] = sorted(
    (script.module for script in scripts_of(alembic_config()).walk_revisions()), key=lambda one: one.revision)
SAYING = [one for one in MIGRATIONS if one.revision >= SAYS_SO_FROM]


def breaks_old_code(before: dict[str, Any], after: dict[str, Any]) -> list[str]:
    """Why code that knows the schema before cannot work on the one after."""
    found = [f"{table} is gone" for table in before if table not in after]
    for table in before.keys() & after.keys():
        was, now = before[table], after[table]
        found += [f"{table}.{name} is gone or another" for name, column in was["columns"].items()
                  if now["columns"].get(name) != column]
        found += [f"{table}.{name} must be given" for name, column in now["columns"].items()
                  if name not in was["columns"] and not column["nullable"] and column["default"] is None]
        new = [name for name in now["columns"] if name not in was["columns"]]
        found += [f"{table} refuses more: {text}" for text in now["checks"] - was["checks"]
                  if not any(re.search(rf"\b{name}\b", text) for name in new)]
        found += [f"{table} has a new key {key}" for key in now["unique"] - was["unique"] if not set(key) & set(new)]
    return found


def schema_of(engines: Engines) -> dict[str, Any]:
    """Tables, columns, checks and unique keys."""
    with engines.read() as connection:
        inspector = inspect(connection)
        return {table: {
            "columns": {column["name"]: {"type": str(column["type"]), "nullable": column["nullable"],
                                         "default": column["default"]} for column in inspector.get_columns(table)},
            "checks": {one["sqltext"] for one in inspector.get_check_constraints(table)},
            "unique": {tuple(one["column_names"]) for one in inspector.get_indexes(table) if one["unique"]}
            | {tuple(one["column_names"]) for one in inspector.get_unique_constraints(table)},
        } for table in inspector.get_table_names()}


@pytest.mark.parametrize("migration", SAYING, ids=lambda one: one.revision)
def test_each_migration_says_from_which_one_on_code_works(migration: ModuleType) -> None:
    before = next((one for one in SAYING if one.revision == migration.down_revision), None)
    assert re.fullmatch(r"\d{4}", migration.works_from)
    assert migration.works_from <= migration.revision
    assert before is None or migration.works_from >= before.works_from, "what the one before broke stays broken"


@pytest.mark.parametrize("migration", [one for one in SAYING if one.works_from < one.revision],
                         ids=lambda one: one.revision)
def test_a_migration_on_which_older_code_works_only_adds(migration: ModuleType, bare_database_url: str) -> None:
    migrate(bare_database_url, migration.works_from)
    engines = open_engines(bare_database_url)
    before = schema_of(engines)
    migrate(bare_database_url, migration.revision)
    assert breaks_old_code(before, schema_of(engines)) == []
    engines.dispose()


@pytest.mark.parametrize(("upgrade", "said"), [
    ('op.drop_column("webhook", "description")', "webhook.description is gone"),
    ('op.drop_table("webhook_dish_outside")', "webhook_dish_outside is gone"),
    ('op.add_column("feed_link", sa.Column("n", sa.Integer(), nullable=False, server_default="1"))', None),
    ('op.execute("ALTER TABLE feed_link ADD COLUMN n INTEGER CHECK (n > 0)")', None),
    ('op.create_index("once", "supplier_version", ["name"], unique=True)', "has a new key"),
    (EXPANDS.replace("time.sleep(0.7)", ""), None)])
def test_the_check_tells_what_adds_from_what_takes_away(
        upgrade: str, said: str | None, database_url: str, tmp_path: Path) -> None:
    engines = open_engines(database_url)
    before = schema_of(engines)
    migrate(database_url, scripts=next_release(tmp_path, upgrade, works_from=NEWEST))
    found = breaks_old_code(before, schema_of(engines))
    engines.dispose()
    assert found == [] if said is None else any(said in one for one in found), found


def test_down_again_the_schema_says_what_the_migration_says_that_it_stands_at(
        database_url: str, tmp_path: Path) -> None:
    following = f"{int(NEWEST) + 1:04}"
    scripts = next_release(tmp_path, "pass", works_from=following)
    engines = open_engines(database_url)
    migrate(database_url, scripts=scripts)
    with pytest.raises(LedgerNotMigrated, match=f"from migration {following} on"):
        fits(engines)
    migrate(database_url, NEWEST, scripts=scripts)
    assert fits(engines)
    migrate(database_url, "0013", scripts=scripts)
    with pytest.raises(LedgerNotMigrated, match="run `seamcost migrate` of this release"):
        fits(engines)
    engines.dispose()


def test_a_release_backs_up_and_restores_its_own_schema_alone(database_url: str, tmp_path: Path) -> None:
    """On a newer one it would leave out what it does not know, and a later release would never fill it."""
    engines = open_engines(database_url)
    backup(engines, tmp_path / "before.jsonl")
    migrate(database_url, scripts=next_release(tmp_path, EXPANDS.replace("time.sleep(0.7)", ""), works_from=NEWEST))
    assert fits(engines)
    with pytest.raises(LedgerNotMigrated, match="by the release of the same one"):
        backup(engines, tmp_path / "after.jsonl")
    with pytest.raises(LedgerNotMigrated, match="by the release of the same one"):
        restore(engines, tmp_path / "before.jsonl")
    assert not (tmp_path / "after.jsonl").exists()
    engines.dispose()
