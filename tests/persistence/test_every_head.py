"""From every earlier head, with the data of that head in every table: up, down and up again, on both engines.

Rows and their values are the same after each turn, published costs too, and no reference leads to nothing. In every run
the heads that were changed last; `SEAMCOST_EVERY_HEAD=1` has all of them.
"""

import os
import shutil
from pathlib import Path

import pytest

from service.persistence.engines import open_engines
from service.persistence.migrating import migrate
from service.persistence.schema_fit import newest_version, version_on
from service.persistence.verifying import verify
from tests.persistence.filled_ledger import (
    broken_references,
    copy,
    dish_costs,
    empty_tables,
    fill,
    kept,
    references,
    rows_of,
)

NEWEST = int(newest_version() or "0")
EARLIER = [f"{number:04}" for number in range(1, NEWEST)]
HEADS = EARLIER if os.environ.get("SEAMCOST_EVERY_HEAD") else [EARLIER[2], *EARLIER[-2:]]
KEEPS_EVERY_FIGURE_FROM = "0011"
"""The last head before which a column was added that figures rest on."""
FIGURES_FROM = "0003"
"""Before it there were no prices: no dish has a cost there."""


@pytest.fixture(scope="module")
def filled_sqlite(sqlite_template, tmp_path_factory):
    path = tmp_path_factory.mktemp("filled") / "filled.db"
    shutil.copyfile(sqlite_template, path)
    fill(path)
    return path


@pytest.fixture(scope="module")
def filled_postgresql(filled_sqlite, postgres_server, postgres_template, tmp_path_factory):
    url = postgres_server.create(postgres_template)
    source, target = open_engines(f"sqlite:///{filled_sqlite}"), open_engines(url)
    copy(source, target, tmp_path_factory.mktemp("copied"))
    target.dispose()
    source.dispose()
    return url.split("@/")[1].split("?")[0]


@pytest.fixture(params=["sqlite", "postgresql"])
def filled_url(request, tmp_path):
    if request.param == "sqlite":
        shutil.copyfile(request.getfixturevalue("filled_sqlite"), tmp_path / "ledger.db")
        yield f"sqlite:///{tmp_path / 'ledger.db'}"
        return
    server = request.getfixturevalue("postgres_server")
    url = server.create(request.getfixturevalue("filled_postgresql"))
    yield url
    server.drop(url)


@pytest.fixture
def filled(filled_url):
    opened = open_engines(filled_url)
    yield opened
    opened.dispose()


def test_there_are_rows_in_every_table(filled):
    assert empty_tables(filled) == []
    assert references(filled) > 40
    assert dish_costs(filled)[0][1] is not None


@pytest.mark.parametrize("head", HEADS)
def test_up_down_and_up_from_an_earlier_head_with_its_data(head, filled, filled_url):
    published = dish_costs(filled)
    migrate(filled_url, head)
    before = rows_of(filled)
    assert [name for name, rows in before.items() if not rows] == []
    migrate(filled_url)
    after, costs = rows_of(filled), dish_costs(filled) if head >= FIGURES_FROM else []
    assert kept(after, before) == before
    assert (broken_references(filled), verify(filled)) == ([], [])
    if head >= KEEPS_EVERY_FIGURE_FROM:
        assert costs == published
    migrate(filled_url, head)
    assert rows_of(filled) == before
    migrate(filled_url)
    assert {name: len(rows) for name, rows in rows_of(filled).items()} == {
        name: len(rows) for name, rows in after.items()}
    assert (dish_costs(filled) if head >= FIGURES_FROM else []) == costs
    with filled.read() as connection:
        assert version_on(connection) == newest_version()


@pytest.mark.parametrize("engine", ["sqlite", "postgresql"])
def test_the_check_finds_a_migration_that_loses_rows(engine, request, tmp_path):
    if engine == "sqlite":
        shutil.copyfile(request.getfixturevalue("filled_sqlite"), tmp_path / "ledger.db")
        url = f"sqlite:///{tmp_path / 'ledger.db'}"
    else:
        url = request.getfixturevalue("postgres_server").create(request.getfixturevalue("filled_postgresql"))
    scripts = tmp_path / "migrations"
    shutil.copytree(Path(__file__).parents[2] / "migrations", scripts)
    name = f"{NEWEST + 1:04}"
    (scripts / "versions" / f"{name}_loses.py").write_text(f'''
from alembic import op
revision, down_revision, works_from = "{name}", "{newest_version()}", "{newest_version()}"


def upgrade():
    op.execute("DELETE FROM idempotency")
''')
    engines = open_engines(url)
    before = rows_of(engines)
    migrate(url, scripts=scripts)
    assert kept(rows_of(engines), before) != before
    engines.dispose()
