"""A backup of either engine restores into either engine, whole and verified, and only into an empty ledger."""

import gzip
import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from sqlalchemy import func, select

from service.domain.supplier import Supplier
from service.persistence.backup import Written, backup, backup_tables
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.restoring import BackupDamaged, LedgerNotEmpty, restore
from service.persistence.row_storing import store_rows
from service.persistence.schema_fit import newest_version
from service.persistence.tables.records import supplier_version
from service.persistence.verifying import verify
from service.use_cases.ledger_unavailable import LedgerUnavailable
from service.use_cases.ports import AccessKey, Entry
from tests.builders import a_price
from tests.persistence.test_migrations import EVERYTHING
from tests.persistence.test_price_proposals import LAYOUT, TOPSIDE, UNREAD, accepted, change, propose
from tests.persistence.writing import CHEF, record, take_back
from tests.sold import a_comp, a_sale, a_sales_day


def fill(ledger, now):
    """A ledger with rows in every table that a backup holds."""
    record(ledger, *EVERYTHING)
    record(ledger, a_price("123456789012.345678"))
    with ledger.write(CHEF) as work:
        take_back(work, work.kitchen().prices["beef-topside"][0])
    with ledger.write(CHEF, moves_figures=False) as work:
        work.next_mark(Entry("created", "key", "k1", {"name": "till"}))
        work.add_key(AccessKey("k1", "till", ("costs:read",), now, None, None, None), "ab" * 32)
        sold = work.next_mark(Entry("record_sales", "sales", "2026-03-01", {"lines": 2}))
        work.sales.keep(a_sales_day(date(2026, 3, 1), a_sale("1042", "2.5", "-45.825"), a_comp("7"), made=sold))
    change(ledger, propose(ledger, TOPSIDE, UNREAD), **accepted(2, prices={1: "2-1"}))
    propose(ledger, *[TOPSIDE] * 2_500)
    with ledger.write(CHEF) as work:
        work.remember_layout("fenmoor", LAYOUT)
    return ledger


@pytest.fixture
def filled(ledger, clock):
    return fill(ledger, clock())


@pytest.fixture(scope="module")
def whole_lines(sqlite_template, tmp_path_factory):
    """The lines of a backup, made once for all who damage it."""
    folder, now = tmp_path_factory.mktemp("whole"), datetime(2026, 3, 2, 10, tzinfo=UTC)
    (folder / "ledger.db").write_bytes(sqlite_template.read_bytes())
    engines = open_engines(f"sqlite:///{folder / 'ledger.db'}")
    fill(SqlLedger(engines, lambda: now), now)
    backup(engines, folder / "b")
    engines.dispose()
    return (folder / "b").read_text(encoding="utf-8").splitlines(keepends=True)


@pytest.fixture(params=["sqlite", "postgresql"])
def other(request, sqlite_template, tmp_path):
    """Another empty ledger, on either engine."""
    if request.param == "sqlite":
        path = tmp_path / "other.db"
        path.write_bytes(Path(sqlite_template).read_bytes())
        opened = open_engines(f"sqlite:///{path}")
    else:
        server = request.getfixturevalue("postgres_server")
        opened = open_engines(server.create(request.getfixturevalue("postgres_template")))
    yield opened
    opened.dispose()


def rows(engines):
    with engines.read() as connection:
        return {table.name: connection.execute(select(table).order_by(*table.primary_key.columns)).all()
                for table in backup_tables()}


@pytest.mark.parametrize("name", ["ledger.jsonl", "ledger.jsonl.gz"])
def test_a_backup_restores_into_either_engine(filled, engines, other, tmp_path, name):
    told = []
    written = backup(engines, tmp_path / name, told.append)
    assert restore(other, tmp_path / name) == 4
    assert rows(other) == rows(engines)
    head = filled.head()
    assert written == Written(sum(map(len, rows(engines).values())), head.revision, head.hash)
    assert told[-1] == written.rows
    assert verify(other) == []
    restored = SqlLedger(other)
    assert restored.head() == filled.head()
    assert all(restored.kitchen(number) == SqlLedger(engines).kitchen(number) for number in range(5))
    assert_proposals_are_the_same(restored, filled)
    a_week = (date(2026, 2, 23), date(2026, 3, 1), 4)
    assert restored.sales.days(*a_week) == filled.sales.days(*a_week) != []
    assert record(restored, Supplier("holt", "Holt"), a_price("16")) == 5
    assert verify(other) == []


def assert_proposals_are_the_same(restored, filled):
    """Which file a price came from is told after a restore too, and the next file gets the next number."""
    kept = filled.proposals(None, 9, None, None)
    assert [one.id for one in kept] == [2, 1]
    assert restored.proposals(None, 9, None, None) == kept
    assert [restored.proposal_rows(one.id) for one in kept] == [filled.proposal_rows(one.id) for one in kept]
    assert restored.layout_of("fenmoor") == LAYOUT
    assert propose(restored, TOPSIDE).id == 3


def test_cursors_of_before_do_not_hold_after_a_restore(filled, engines, other, tmp_path):
    backup(engines, tmp_path / "b")
    with other.write() as connection:
        connection.exec_driver_sql(f"UPDATE signing_secret SET secret = '{'cd' * 32}'")
    restore(other, tmp_path / "b")
    assert SqlLedger(other).signing_secret() == bytes.fromhex("cd" * 32)
    assert filled.signing_secret().hex() not in (tmp_path / "b").read_text()


def test_nothing_is_written_over(filled, engines, tmp_path):
    backup(engines, tmp_path / "b")
    before = rows(engines)
    with pytest.raises(LedgerNotEmpty):
        restore(engines, tmp_path / "b")
    assert rows(engines) == before


def damaged(lines, how):
    """A backup's lines, damaged."""
    if how == "cut short":
        return lines[:-3]
    if how == "a price changed":
        return [line.replace("123456789012.345678", "123456789012.345679") for line in lines]
    if how == "a document changed, vouched for anew":
        return revouched([line.replace("a slip of the pen", "an honest mistake") for line in lines])
    if how == "another schema":
        return revouched([line.replace(f'"schema":"{newest_version()}"', '"schema":"0002"') for line in lines])
    if how == "a row of no table":
        return revouched([lines[0], "[1,2]\n", *lines[1:]])
    if how == "a row too short":
        return revouched([*lines[:2], "[1]\n", *lines[2:]])
    if how == "an amount that is none, vouched for anew":
        return revouched([line.replace("123456789012.345678", "dear") for line in lines])
    if how == "an entry of no revision, vouched for anew":
        return revouched([line.replace("[3,1,", "[33,1,", 1) for line in lines])
    if how == "a table announced again at the end, without a row":
        return revouched([*lines[:-1], lines[1], lines[-1]])
    if how == "no JSON":
        return ["something else\n"]
    return []


def revouched(lines):
    import hashlib
    digest = hashlib.sha256("".join(lines[:-1]).encode()).hexdigest()
    rows = sum(line.startswith("[") for line in lines)
    return [*lines[:-1], json.dumps({"rows": rows, "sha256": digest}) + "\n"]


@pytest.mark.parametrize("how", ["cut short", "a price changed", "a document changed, vouched for anew",
                                 "another schema", "a row of no table", "a row too short", "no JSON", "empty",
                                 "an amount that is none, vouched for anew",
                                 "a table announced again at the end, without a row",
                                 "an entry of no revision, vouched for anew"])
def test_a_damaged_backup_leaves_the_ledger_empty(whole_lines, other, tmp_path, how):
    path = tmp_path / "b"
    path.write_text("".join(damaged(whole_lines, how)), encoding="utf-8")
    with pytest.raises(BackupDamaged):
        restore(other, path)
    assert SqlLedger(other).head().revision == 0
    assert rows(other)["revision"] == []


_PRICE = '[1,7,1,1,"14.2","1","kg","2026-01-05"'
RESEMBLING = {
    "a blank": (_PRICE, _PRICE.replace(",", ", ", 1)),
    "a nought more": (_PRICE, _PRICE.replace("14.2", "14.20")),
    "a day written otherwise": (_PRICE, _PRICE.replace("2026-01-05", "20260105")),
    "a number as text": (_PRICE, _PRICE.replace(",7,", ',"7",')),
    "a number with a point": (_PRICE, _PRICE.replace(",7,", ",7.0,")),
    "a number for yes or no": ("[1,3,1,null,null,false", "[1,3,1,null,null,0"),
    "a number for text": ('"Fenmoor",""]', '"Fenmoor",7]'),
    "a list for text": ('"Fenmoor",""]', '"Fenmoor",[7]]'),
    "an escape that need not be": ('[1,"fenmoor"]', '[1,"fenmoo\\u0072"]'),
    "a title with a blank": ('"code"],"table":"cut"', '"code"], "table":"cut"'),
}


def test_what_only_resembles_a_ledger_s_own_value_is_refused(whole_lines, other, tmp_path):
    """Vouched for anew each time; columns would take each for the value that it resembles, or for another."""
    path, lines = tmp_path / "b", whole_lines
    for how, (value, resembling) in RESEMBLING.items():
        place = next((number for number, line in enumerate(lines) if value in line), None)
        assert place is not None, how
        changed = lines[place].replace(value, resembling, 1)
        path.write_text("".join(revouched([*lines[:place], changed, *lines[place + 1:]])), encoding="utf-8")
        with pytest.raises(BackupDamaged):
            restore(other, path)
            pytest.fail(how)
    assert rows(other)["revision"] == []


def test_one_that_is_not_proven_does_not_take_the_place_of_another(filled, engines, tmp_path):
    def prove(written):
        assert written.read_text(encoding="utf-8").startswith('{"format"')
        raise BackupDamaged("not proven")

    (tmp_path / "b").write_text("an earlier one")
    with pytest.raises(BackupDamaged, match="not proven"):
        backup(engines, tmp_path / "b", prove=prove)
    assert [(path.name, path.read_text()) for path in tmp_path.iterdir() if path.suffix != ".db"
            and not path.name.endswith(("-wal", "-shm"))] == [("b", "an earlier one")]


def test_no_table_is_made_anew_under_a_long_read(filled, engines):
    """A view from before would find it empty, and a backup would have lost its rows without a word.

    Source:  PostgreSQL documentation, section 13.6, caveats of MVCC.
    """
    if engines.is_sqlite:
        pytest.skip("one writer at a time, and readers keep what they saw")
    with engines.one_view() as view:
        with pytest.raises(LedgerUnavailable, match="lock timeout"), engines.write() as migration:
            migration.exec_driver_sql("SET LOCAL lock_timeout = 100")
            migration.exec_driver_sql("ALTER TABLE supplier_version ALTER COLUMN note TYPE varchar(500)")
        assert view.scalar(select(func.count()).select_from(supplier_version)) > 0


def test_a_compressed_backup_cut_short_is_refused(filled, engines, other, tmp_path):
    path = tmp_path / "b.gz"
    backup(engines, path)
    whole = path.read_bytes()
    for damaged in (whole[:-20], whole[:len(whole) // 2], whole[:50] + b"x" + whole[51:], b"no gzip at all"):
        path.write_bytes(damaged)
        with pytest.raises(BackupDamaged):
            restore(other, path)
    assert rows(other)["revision"] == []


def test_large_rows_are_held_in_memory_few_at_a_time(filled, engines, other, tmp_path, monkeypatch):
    told = {}

    def counted(connection, table, kept):
        told[table.name] = max(told.get(table.name, 0), len(kept))
        store_rows(connection, table, kept)

    monkeypatch.setattr("service.persistence.backup._LARGE_AT_ONCE", 1)
    monkeypatch.setattr("service.persistence.restoring.store_rows", counted)
    backup(engines, tmp_path / "b")
    restore(other, tmp_path / "b")
    assert told["price_proposal_part"] == 1 < told["entry"]


def test_a_backup_taken_while_others_write_is_one_view(filled, engines, other, tmp_path):
    """Another price is recorded after the backup has begun to read."""
    written = []

    def meanwhile(_rows):
        if not written:
            written.append(record(filled, a_price("17")))

    import service.persistence.backup as module
    at_once, module._AT_ONCE = module._AT_ONCE, 1
    try:
        backup(engines, tmp_path / "b", meanwhile)
    finally:
        module._AT_ONCE = at_once
    assert written == [5]
    assert restore(other, tmp_path / "b") == 4
    assert len(rows(other)["price"]) == len(rows(engines)["price"]) - 1


def test_a_compressed_backup_is_gzip(filled, engines, tmp_path):
    backup(engines, tmp_path / "b.gz")
    with gzip.open(tmp_path / "b.gz", "rt") as file:
        assert json.loads(file.readline())["revision"] == 4
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []
