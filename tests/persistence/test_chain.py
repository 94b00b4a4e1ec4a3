"""The chain of hashes: append-only on both engines, tampering shows, and the hash is what its definition says."""

import hashlib
import json

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DatabaseError

from service.domain.supplier import Supplier
from service.persistence.hash_chain import GENESIS
from service.persistence.verifying import ChainBreak, verify
from service.use_cases.ports import Entry
from tests.builders import a_price, a_primal
from tests.persistence.guards import take_guards_away
from tests.persistence.writing import CHEF, record


@pytest.fixture
def three_revisions(ledger):
    record(ledger, Supplier("fenmoor", "Fenmoor"), a_primal())
    record(ledger, a_price())
    with ledger.write(CHEF, moves_figures=False) as work:
        work.next_mark(Entry("noted", "note", "n1", {"text": "Crème brûlée\n\u2028 \"6\" × 40 °"}))
    return ledger


def execute(engines, *statements):
    with engines.write() as connection:
        for statement in statements:
            connection.execute(text(statement))


@pytest.mark.parametrize("statement", [
    "UPDATE revision SET who = 'somebody else' WHERE number = 2",
    "DELETE FROM revision WHERE number = 3",
    "UPDATE entry SET document = '{}' WHERE revision = 1",
    "DELETE FROM entry WHERE revision = 3",
])
def test_revisions_and_entries_are_append_only(three_revisions, engines, statement):
    with pytest.raises(DatabaseError, match="append-only"):
        execute(engines, statement)
    assert verify(engines) == []


@pytest.mark.parametrize(("number", "previous"), [(5, "the head's"), (4, "another"), (1, "another")])
def test_a_revision_that_does_not_continue_the_chain_is_refused(three_revisions, engines, number, previous):
    held = three_revisions.head().hash if previous == "the head's" else "ab" * 32
    if number == 1:
        held = GENESIS.replace("0", "1", 1)
    with pytest.raises(DatabaseError, match=r"continues the one before|moved past|UNIQUE|duplicate"):
        execute(engines, "INSERT INTO revision (number, made_at, on_date, key_id, who, request_id, moves_figures, "
                f"previous_hash, hash) VALUES ({number}, '2026-03-02T10:00:00.000000Z', '2026-03-02', 'k', 'w', 'r', "
                f"1, '{held}', '{'cd' * 32}')")


def test_insert_or_replace_cannot_overwrite_on_sqlite(sqlite_url, clock):
    """F11: without recursive_triggers it would, past every trigger."""
    from service.persistence.engines import open_engines
    from service.persistence.ledger import SqlLedger

    engines = open_engines(sqlite_url)
    try:
        record(SqlLedger(engines, clock), Supplier("fenmoor", "Fenmoor"))
        with pytest.raises(DatabaseError, match="moved past"):
            execute(engines, "INSERT OR REPLACE INTO entry (revision, number, action, kind, code, document) "
                    "VALUES (1, 1, 'a', 'b', 'c', '{}')")
    finally:
        engines.dispose()


def test_truncate_cannot_empty_it_on_postgresql(postgres_url):
    from service.persistence.engines import open_engines

    engines = open_engines(postgres_url)
    try:
        with pytest.raises(DatabaseError, match="append-only"):
            execute(engines, "TRUNCATE entry CASCADE")
    finally:
        engines.dispose()


@pytest.mark.parametrize(("statement", "revision"), [
    ("UPDATE entry SET document = replace(document, '14.2', '13.2') WHERE revision = 2", 2),
    ("UPDATE entry SET code = 'beef-rump' WHERE revision = 1 AND number = 2", 1),
    ("UPDATE entry SET action = 'other' WHERE revision = 1 AND number = 1", 1),
    ("UPDATE revision SET who = 'somebody else' WHERE number = 2", 2),
    ("UPDATE revision SET request_id = 'x' WHERE number = 1", 1),
    ("UPDATE revision SET on_date = '2026-03-01' WHERE number = 1", 1),
    ("UPDATE revision SET moves_figures = 1 WHERE number = 3", 3),
    (f"UPDATE revision SET hash = '{'ab' * 32}' WHERE number = 2", 2),
    ("DELETE FROM entry WHERE revision = 1 AND number = 2", 1),
    ("DELETE FROM entry WHERE revision = 3", 3),
    ("UPDATE ledger_head SET revision = 2, promised = 2, figures_revision = 2", 0),
    ("DELETE FROM ledger_head", 0),
])
def test_tampering_shows(three_revisions, engines, statement, revision):
    take_guards_away(engines)
    assert verify(engines) == []
    deferred = ["SET CONSTRAINTS ALL DEFERRED"] if not engines.is_sqlite else []
    if statement.startswith("DELETE FROM entry"):
        _without_foreign_keys(engines, statement)
    else:
        execute(engines, *deferred, statement)
    assert revision in {one.revision for one in verify(engines)}


def test_a_tail_cut_off_with_its_head_shows_against_an_anchor(three_revisions, engines):
    head = three_revisions.head()
    before = three_revisions.figures_at(2)
    take_guards_away(engines)
    execute(engines, "DELETE FROM entry WHERE revision = 3", "DELETE FROM revision WHERE number = 3",
            f"UPDATE ledger_head SET revision = 2, promised = 2, hash = '{before[1]}'")
    assert verify(engines) == []
    assert verify(engines, {3: head.hash}) == [ChainBreak(3, "it was noted earlier and is not there")]
    assert verify(engines, {2: "ab" * 32}) == [ChainBreak(2, "its hash is not the one noted earlier")]


def _without_foreign_keys(engines, statement):
    """Versions refer to entries; whoever tampers would turn that off, too."""
    connection = engines.writing.raw_connection()
    try:
        cursor = connection.cursor()
        cursor.execute("PRAGMA foreign_keys=OFF" if engines.is_sqlite else "SET session_replication_role = replica")
        cursor.execute(statement)
        connection.commit()
        cursor.execute("PRAGMA foreign_keys=ON" if engines.is_sqlite else "SET session_replication_role = DEFAULT")
        connection.commit()
    finally:
        connection.close()


def test_the_hash_is_sha_256_over_the_lines_of_its_definition(three_revisions, engines):
    """Rebuilt here from the columns alone, with the standard library."""
    with engines.read() as connection:
        revisions = connection.execute(text(
            "SELECT number, key_id, who, request_id, moves_figures, hash FROM revision ORDER BY number")).all()
        entries = connection.execute(text(
            "SELECT revision, number, action, kind, code, document FROM entry ORDER BY revision, number")).all()
    previous = "0" * 64
    for row in revisions:
        facts = {"key_id": row.key_id, "made_at": "2026-03-02T10:00:00.000000Z",
                 "moves_figures": bool(row.moves_figures), "number": row.number, "on_date": "2026-03-02",
                 "request_id": row.request_id, "who": row.who}
        lines = [previous, _compact(facts)]
        for entry in entries:
            if entry.revision == row.number:
                named = {"action": entry.action, "code": entry.code, "kind": entry.kind, "number": entry.number}
                lines += [_compact(named), entry.document]
        previous = hashlib.sha256("\n".join(lines).encode()).hexdigest()
        assert previous == row.hash
    assert previous == three_revisions.head().hash


def _compact(value):
    return json.dumps(value, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
