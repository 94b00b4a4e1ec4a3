"""Files of the database that are damaged: 503 that says so and by what it is mended, on both engines, and no defect.

A page of a ledger's own file is written over, or a file removed, before anybody has read it: on SQLite in the file, on
PostgreSQL in a database that the server copied as files and has not opened yet, so nothing of it is in its buffers.

Source: PostgreSQL documentation, appendix A, class XX, and section 67 (page layout); SQLite's file format, section 1.6.
"""

import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

import psycopg
import pytest

from service import operating, wiring
from service.persistence import sqlite_engine
from service.persistence.engines import open_engines, sqlite_file
from service.persistence.ledger import SqlLedger
from service.persistence.schema_fit import fits
from service.persistence.whole import what_is_wrong
from service.settings import Settings
from service.use_cases.keys import create_key
from service.use_cases.ledger_unavailable import LedgerDamaged
from service.use_cases.snapshots import Snapshots
from service.watching import first_snapshot
from service.watching.first_snapshot import build_first
from service.watching.readiness import Readiness
from tests.postgres import PostgresServer
from tests.reliability.small_ledger import CHEF, fill
from tests.reliability.told_to_mend import told_to_mend
from tests.watching.serving import until

PAGE = 8192
A_PRICE = {"supplier": "fenmoor", "amount": "15", "pack_quantity": "1", "pack_unit": "kg"}
Damaged = tuple[str, str]
"""The URL of a ledger, and the key of its admin."""


def filled(url: str) -> str:
    engines = open_engines(url)
    try:
        return str(create_key(fill(engines), "admin", ["admin"], None, CHEF).document["key"])
    finally:
        engines.dispose()


@pytest.fixture(scope="module")
def whole_postgresql(postgres_server: PostgresServer, postgres_template: str) -> Damaged:
    url = postgres_server.create(postgres_template)
    return url, filled(url)


@pytest.fixture(scope="module")
def whole_sqlite(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Damaged:
    path = tmp_path_factory.mktemp("whole") / "ledger.db"
    shutil.copyfile(sqlite_template, path)
    url = f"sqlite:///{path}"
    return url, filled(url)


@pytest.fixture
def copied(postgres_server: PostgresServer, whole_postgresql: Damaged) -> Iterator[Callable[[str], tuple[str, Path]]]:
    """A copy of the database that nobody has opened, and the file in it of a table or an index."""
    whole, made = whole_postgresql[0], []

    def copy(name: str) -> tuple[str, Path]:
        template = whole.split("@/")[1].split("?")[0]
        url = postgres_server.create(template)
        made.append(url)
        with psycopg.connect(whole) as connection:
            found = connection.execute("SELECT pg_relation_filepath(%s)", (name,)).fetchone()
        with psycopg.connect(postgres_server.url("postgres")) as connection:
            oid = connection.execute("SELECT oid FROM pg_database WHERE datname = %s",
                                     (url.split("@/")[1].split("?")[0],)).fetchone()
        assert found is not None
        assert oid is not None
        return url, postgres_server.socket_folder / "data" / "base" / str(oid[0]) / Path(found[0]).name

    yield copy
    for url in made:
        postgres_server.drop(url)


def written_over(file: Path, place: int, with_byte: bytes, length: int) -> None:
    assert file.stat().st_size >= place + length
    with file.open("r+b") as opened:
        opened.seek(place)
        opened.write(with_byte * length)


@contextmanager
def asking(url: str, key: str) -> Iterator[Callable[..., Any]]:
    settings = Settings(database_url=url)
    with operating.opened_ledger(settings) as ledger:
        yield partial(wiring.app_on(ledger, settings).test_client().open, headers={"Authorization": f"Bearer {key}"})


def told_as_damaged(answer: Any, log: pytest.LogCaptureFixture, words: str) -> None:
    told_to_mend(answer, log, "database-damaged", "LedgerDamaged", words, "restore the newest backup")


@pytest.fixture
def a_damaged_page(request: pytest.FixtureRequest, tmp_path: Path) -> Damaged:
    """The first page of the table of prices is written over."""
    if request.param == "postgresql":
        url, file = request.getfixturevalue("copied")("price")
        written_over(file, 0, b"\xff", PAGE)
        return url, request.getfixturevalue("whole_postgresql")[1]
    whole, key = request.getfixturevalue("whole_sqlite")
    path = tmp_path / "ledger.db"
    shutil.copyfile(sqlite_file(open_engines(whole).url), path)
    connection = sqlite_engine.driver().connect(path)
    (root,), (size,) = (connection.execute(asked).fetchone() for asked in (
        "SELECT rootpage FROM sqlite_schema WHERE name = 'price'", "PRAGMA page_size"))
    connection.close()
    written_over(path, (root - 1) * size, b"\xff", size)
    return f"sqlite:///{path}", key


@pytest.mark.parametrize("a_damaged_page", ["sqlite", "postgresql"], indirect=True)
def test_a_damaged_page_is_503_that_names_the_mend_and_the_rest_is_answered(
        a_damaged_page: Damaged, caplog: pytest.LogCaptureFixture) -> None:
    url, key = a_damaged_page
    words = "malformed" if url.startswith("sqlite") else "invalid page in block 0 of relation"
    with asking(url, key) as ask:
        for asked in ({"path": "/v1/dish-costs"},
                      {"path": "/v1/ingredients/beef-topside/prices", "method": "POST", "json": A_PRICE}):
            caplog.clear()
            told_as_damaged(ask(**asked), caplog, words)
        assert ask("/v1/keys").status_code == 200
    engines = open_engines(url)
    with pytest.raises(LedgerDamaged, match=words):
        what_is_wrong(engines)
    engines.dispose()


@pytest.mark.parametrize("a_damaged_page", ["sqlite", "postgresql"], indirect=True)
def test_a_service_that_starts_on_it_is_not_ready_and_says_why(
        a_damaged_page: Damaged, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(first_snapshot, "PAUSES_FOR_A_HAND", 0.01)
    engines = open_engines(a_damaged_page[0])
    ledger, tries = SqlLedger(engines), list[int]()
    snapshots, mended = Snapshots(ledger), threading.Event()

    def build() -> None:
        tries.append(1)
        if not mended.is_set():
            build_first(ledger, snapshots)

    ready = Readiness(partial(fits, engines), build, lambda: True)
    assert ready.now() == {"database": True, "snapshot": False}
    until(lambda: ready.first.to_mend, 30)
    with pytest.raises(LedgerDamaged, match="restore the newest backup"):
        ready.soon()
    until(lambda: len(tries) > 3, 30)
    mended.set()
    until(lambda: ready.first.is_there(30))
    assert ready.now() == {"database": True, "snapshot": True}
    assert [line.message for line in caplog.records] == ["the first snapshot waits for a ledger that can be read"]
    engines.dispose()


def test_a_damaged_index_is_told_to_who_writes(copied: Callable[[str], tuple[str, Path]], whole_postgresql: Damaged,
                                               caplog: pytest.LogCaptureFixture) -> None:
    """The root of the index of the primary key is nothing but zeros: XX002."""
    url, file = copied("pk_price")
    written_over(file, PAGE, b"\0", PAGE)
    with asking(url, whole_postgresql[1]) as ask:
        answer = ask("/v1/ingredients/beef-topside/prices", method="POST", json=A_PRICE)
    told_as_damaged(answer, caplog, "unexpected zero page at block 1")


def test_a_file_that_is_gone_is_damage(copied: Callable[[str], tuple[str, Path]], whole_postgresql: Damaged,
                                       caplog: pytest.LogCaptureFixture) -> None:
    """58P01."""
    url, file = copied("price")
    file.unlink()
    with asking(url, whole_postgresql[1]) as ask:
        told_as_damaged(ask("/v1/dish-costs"), caplog, "could not open file")
