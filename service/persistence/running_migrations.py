"""Running alembic, with settings made here: there is no file to find. Imported where there is something to migrate."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

from service.persistence.schema_fit import hold_to_fit, scripts_at, version_on


def run_migrations(connection: Connection, revision: str, scripts: Path | None) -> str | None:
    """Bring the database to `revision`, up or down; one that is newer than `scripts` and works with them is left as it
    is, and the migration that it stays at is given.

    Raises:  LedgerNotMigrated where it is too new.
    """
    config = alembic_config(scripts)
    config.attributes["connection"] = connection
    known, current = scripts_of(config), version_on(connection)
    if current is not None and current not in {script.revision for script in known.walk_revisions()}:
        hold_to_fit(connection, known.get_current_head())
        return current
    if revision == "base" or (current is not None and revision != "head" and revision < current):
        command.downgrade(config, revision)
    else:
        command.upgrade(config, revision)
    return None


def alembic_config(scripts: Path | None = None) -> Config:
    """Alembic's settings. `scripts` are the migrations of another release."""
    config = Config()
    config.set_main_option("script_location", str(scripts_at(scripts)).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config


def scripts_of(config: Config) -> ScriptDirectory:
    """The migrations of a release."""
    return ScriptDirectory.from_config(config)
