"""Runs the migrations, from the command line of alembic or from the service's own `migrate`.

The service hands over a connection that already holds the migration lock in a transaction; alembic's command line
opens one itself, from SEAMCOST_DATABASE_URL. Whatever migration the database comes to stand at, the schema then says
which code works on it (`works_from` of that migration).
"""

import os

from alembic import context
from sqlalchemy import text

from service.persistence.engines import open_engines
from service.persistence.tables.every_table import metadata

SAYS_WHAT_IT_SUPPORTS = "0014"
"""The first migration that does; before it there is no table to say it in."""


def run(connection):
    """Run the migrations asked for on a connection."""
    context.configure(
        connection=connection,
        target_metadata=metadata,
        render_as_batch=True,
        compare_type=True,
        transaction_per_migration=False,
        on_version_apply=say_what_works,
    )
    with context.begin_transaction():
        context.run_migrations()


def say_what_works(ctx, heads, **_told):
    """Have the schema say from which migration on code works on it: up or down, the one that it stands at knows."""
    for head in heads:
        if head >= SAYS_WHAT_IT_SUPPORTS:
            works_from = context.script.get_revision(head).module.works_from
            ctx.connection.execute(text("UPDATE schema_support SET works_from = :it WHERE id = 1"), {"it": works_from})


handed_over = context.config.attributes.get("connection")
if handed_over is not None:
    run(handed_over)
else:
    engines = open_engines(os.environ.get("SEAMCOST_DATABASE_URL", "sqlite:///seamcost.db"))
    with engines.write() as own_connection:
        run(own_connection)
