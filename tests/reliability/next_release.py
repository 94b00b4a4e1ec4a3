"""The migrations of a release to come: those that there are, and one more that a test makes up."""

import shutil
from pathlib import Path

from service.persistence.schema_fit import newest_version

TOP = Path(__file__).parents[2]
_WRITTEN = '''"""Made up by a test."""

import time

import sqlalchemy as sa
from alembic import op

revision = "{revision}"
down_revision = "{after}"
works_from = "{works_from}"


def upgrade():
    {upgrade}


def downgrade():
    pass
'''

EXPANDS = """op.add_column("supplier_version", sa.Column("rating", sa.Integer()))
    op.create_index("ix_supplier_version_rating", "supplier_version", ["rating"])
    op.create_table("supplier_visit", sa.Column("supplier_id", sa.Integer(), sa.ForeignKey("supplier.id")))
    time.sleep(0.7)"""
"""A column, an index and a table, where others read and write meanwhile; it takes a while."""

CONTRACTS = """op.drop_table("supplier_visit")"""


def next_release(folder: Path, upgrade: str, works_from: str, steps: int = 1) -> Path:
    """A folder of migrations whose last one does `upgrade`, the `steps`-th after those that there are."""
    scripts, newest = folder / f"release-{steps}", int(newest_version() or "0")
    shutil.copytree(TOP / "migrations" if steps == 1 else folder / f"release-{steps - 1}", scripts)
    (scripts / "versions" / f"{newest + steps:04}_made_up.py").write_text(_WRITTEN.format(
        revision=f"{newest + steps:04}", after=f"{newest + steps - 1:04}", works_from=works_from, upgrade=upgrade))
    return scripts
