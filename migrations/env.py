"""Runs the migrations, from the command line of alembic or from the service's own `migrate`.

The service hands over a connection that already holds the migration lock in a transaction; alembic's command line
opens one itself, from SEAMCOST_DATABASE_URL.
"""

import os

from alembic import context

from service.persistence.engines import open_engines
from service.persistence.tables.every_table import metadata


def run(connection):
    """Run the migrations asked for on a connection."""
    context.configure(
        connection=connection,
        target_metadata=metadata,
        render_as_batch=True,
        compare_type=True,
        transaction_per_migration=False,
    )
    with context.begin_transaction():
        context.run_migrations()


handed_over = context.config.attributes.get("connection")
if handed_over is not None:
    run(handed_over)
else:
    engines = open_engines(os.environ.get("SEAMCOST_DATABASE_URL", "sqlite:///seamcost.db"))
    with engines.write() as own_connection:
        run(own_connection)
