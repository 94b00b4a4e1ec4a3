"""What the judge of the chain says of a forged one, break by break; in memory, and without the database's own guards.

Source of the forger: the definition of the hash (`service.persistence.hash_chain`), written anew on the standard
library; one revision's hash was computed with OpenSSL and with coreutils' `sha256sum`.
"""

import hashlib
import json
from collections.abc import Callable, Iterator
from contextlib import nullcontext
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from types import SimpleNamespace
from typing import Any

import pytest
from sqlalchemy import Connection, create_engine, text

from service.persistence import verifying
from service.persistence.astray import Astray
from service.persistence.hash_chain import RevisionFacts, StoredEntry, revision_hash
from service.persistence.tables import chain
from service.persistence.verifying import ChainBreak, told_on, verify_on

ZEROS, FALSE = "0" * 64, "ab" * 32
AT = datetime(2026, 3, 2, 10, tzinfo=UTC)
WRITTEN = "5f3e9c42a1e300da78bd4c4097f179055f4e49d6d9dd901d044048cf6a63fe04"
NOT_SAID, NOT_CARRIED = "its hash is not that of what it says", "it does not carry the hash of the revision before"
NOT_NUMBERED = "its entries are not numbered from 1 without a gap"


def test_a_revision_s_hash_is_that_of_its_lines() -> None:
    """`sha256sum` of six lines without a last line end: 64 zeros, then (without the marks)

    {"key_id":"k1","made_at":"2026-03-02T10:00:00.000000Z","moves_figures":true,"number":1,"on_date":"2026-03-02",
    "request_id":"r1","who":"Zoë \\"Z\\""} in one line, {"action":"keep","code":"fenmoor","kind":"supplier","number":1},
    {"name":"Fenmoor"}, {"action":"no\\nte","code":"n1","kind":"note","number":2} and {}.
    """
    facts = RevisionFacts(1, AT, date(2026, 3, 2), "k1", 'Zoë "Z"', "r1", True)
    entries = [StoredEntry(1, "keep", "supplier", "fenmoor", '{"name":"Fenmoor"}'),
               StoredEntry(2, "no\nte", "note", "n1", "{}")]
    assert revision_hash(ZEROS, facts, entries) == WRITTEN
    others = [revision_hash(FALSE, facts, entries), revision_hash(ZEROS, facts, entries[:1]),
              revision_hash(ZEROS, facts, entries[::-1]),
              *(revision_hash(ZEROS, replace(facts, **{name: value}), entries) for name, value in (
                  ("number", 2), ("made_at", AT.replace(microsecond=1)), ("on_date", date(2026, 3, 3)),
                  ("key_id", "k2"), ("who", "Z"), ("request_id", "r2"), ("moves_figures", False))),
              *(revision_hash(ZEROS, facts, [entries[0]._replace(**{name: value}), entries[1]]) for name, value in (
                  ("number", 3), ("action", "k"), ("kind", "s"), ("code", "f"), ("document", "{}")))]
    assert len({WRITTEN, *others}) == 1 + len(others), "every field counts, and so does the order"


@dataclass
class Forged:
    """One revision as it will be stored; `hash` and `previous_hash` are right unless they are given."""

    number: int
    on_date: str = "2026-03-02"
    moves_figures: bool = True
    entries: list[tuple[int, str]] = field(default_factory=lambda: [(1, "{}"), (2, '{"a":1}')])
    made_at: str = "2026-03-02T10:00:00.000000Z"
    who: str = "chef"
    previous_hash: str | None = None
    hash: str | None = None

    def honest(self, previous: str) -> str:
        facts = {"key_id": "k", "made_at": self.made_at, "moves_figures": self.moves_figures, "number": self.number,
                 "on_date": self.on_date, "request_id": "r", "who": self.who}
        lines = [previous, compact(facts)]
        for number, document in self.entries:
            lines += [compact({"action": "keep", "code": "c", "kind": "note", "number": number}), document]
        return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def compact(value: Any) -> str:
    return json.dumps(value, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


@pytest.fixture
def connection() -> Iterator[Connection]:
    engine = create_engine("sqlite://")
    chain.revision.metadata.create_all(engine, tables=[chain.revision, chain.entry, chain.ledger_head])
    with engine.connect() as made:
        yield made
    engine.dispose()


def written(connection: Connection, revisions: list[Forged], **head: Any) -> list[str]:
    """Store a chain with its head; the hashes that it has."""
    previous, hashes, figures = ZEROS, [], (0, ZEROS)
    for each in revisions:
        carried = each.previous_hash or previous
        previous = each.hash or each.honest(carried)
        hashes.append(previous)
        figures = (each.number, previous) if each.moves_figures else figures
        connection.execute(text("INSERT INTO revision VALUES (:number, :made_at, :on_date, 'k', :who, 'r', :moves, "
                                ":previous, :hash)"), {
            "number": each.number, "made_at": each.made_at, "on_date": each.on_date, "who": each.who,
            "moves": int(each.moves_figures), "previous": carried, "hash": previous})
        for number, document in each.entries[::-1]:  # in whatever order they lie in the table
            a_stray(connection, each.number, number, document)
    told = {"revision": revisions[-1].number if revisions else 0, "hash": previous,
            "on_date": revisions[-1].on_date if revisions else "2026-01-01", "figures_revision": figures[0],
            "figures_hash": figures[1]} | head
    connection.execute(text("INSERT INTO ledger_head VALUES (1, :revision, :on_date, :hash, :figures_revision, "
                            ":figures_hash, :revision)"), told)
    return hashes


def a_stray(connection: Connection, revision: int, number: int = 1, document: str = "{}") -> None:
    connection.execute(text("INSERT INTO entry VALUES (:revision, :number, 'keep', 'note', 'c', :document)"), {
        "revision": revision, "number": number, "document": document})


def four(**of_the_second: Any) -> list[Forged]:
    """Four revisions; the third moves no figure."""
    return [Forged(1), Forged(2, **of_the_second), Forged(3, moves_figures=False), Forged(4, on_date="2026-03-03")]


def broken(connection: Connection, anchors: dict[int, str] | None = None) -> list[tuple[int, str]]:
    return [(one.revision, one.detail) for one in verify_on(connection, anchors or {})]


def test_of_a_whole_chain_nothing_is_said(connection: Connection) -> None:
    hashes = written(connection, four())
    assert broken(connection) == []
    assert broken(connection, {number: hashes[number - 1] for number in (1, 2, 4)} | {0: FALSE}) == []


def test_an_empty_one_is_whole(connection: Connection) -> None:
    written(connection, [])
    assert broken(connection) == []
    assert broken(connection, {2: FALSE, 1: FALSE}) == [
        (1, "it was noted earlier and is not there"), (2, "it was noted earlier and is not there")]


@pytest.mark.parametrize("change", [
    "made_at = '2026-03-02T10:00:00.000001Z'", "key_id = 'x'", "who = 'x'", "request_id = 'x'", "moves_figures = 0",
    "on_date = '2026-03-03'"])
def test_what_a_revision_says_is_held_to_its_hash(connection: Connection, change: str) -> None:
    written(connection, four())
    connection.execute(text(f"UPDATE revision SET {change} WHERE number = 2"))
    days = [(3, "its business day is before that of the revision before")] if "on_date" in change else []
    assert broken(connection) == [(2, NOT_SAID), *days]


@pytest.mark.parametrize(("change", "also"), [
    ("UPDATE entry SET action = 'x' WHERE revision = 2 AND number = 1", []),
    ("UPDATE entry SET kind = 'x' WHERE revision = 2 AND number = 1", []),
    ("UPDATE entry SET code = 'x' WHERE revision = 2 AND number = 1", []),
    ("UPDATE entry SET document = '{} ' WHERE revision = 2 AND number = 1", []),
    ("UPDATE entry SET number = 3 WHERE revision = 2 AND number = 2", [(2, NOT_NUMBERED)]),
    ("UPDATE entry SET number = 3 WHERE revision = 2 AND number = 1", [(2, NOT_NUMBERED)]),
    ("DELETE FROM entry WHERE revision = 2 AND number = 1", [(2, NOT_NUMBERED)]),
    ("DELETE FROM entry WHERE revision = 2 AND number = 2", []),
    ("DELETE FROM entry WHERE revision = 2", [(2, NOT_NUMBERED)]),
    ("INSERT INTO entry VALUES (2, 3, 'keep', 'note', 'c', '{}')", [])])
def test_so_are_its_entries(connection: Connection, change: str, also: list[tuple[int, str]]) -> None:
    written(connection, four())
    connection.execute(text(change))
    assert broken(connection) == [*also, (2, NOT_SAID)]


def test_a_revision_taken_out_shows_by_its_neighbour_and_its_entries(connection: Connection) -> None:
    written(connection, four())
    connection.execute(text("DELETE FROM revision WHERE number = 3"))
    assert broken(connection) == [
        (4, "it follows revision 2"), (4, NOT_CARRIED), (3, "it has entries and is not there")]


def test_a_hash_written_anew_shows_at_the_next_one(connection: Connection) -> None:
    written(connection, four())
    connection.execute(text("UPDATE revision SET who = 'x', hash = :hash WHERE number = 2"),
                       {"hash": Forged(2, who="x").honest(Forged(1).honest(ZEROS))})
    assert broken(connection) == [(3, NOT_CARRIED)]


def test_a_chain_written_anew_shows_against_a_hash_noted_earlier_alone(connection: Connection) -> None:
    honest = Forged(2).honest(Forged(1).honest(ZEROS))
    written(connection, four(who="x"))
    assert broken(connection) == []
    assert broken(connection, {2: honest}) == [(2, "its hash is not the one noted earlier")]
    assert broken(connection, {5: honest}) == [(5, "it was noted earlier and is not there")]


@pytest.mark.parametrize(("revisions", "breaks"), [
    ([Forged(1, previous_hash=FALSE)], [(1, NOT_CARRIED)]),
    ([Forged(2)], [(2, "it follows revision 0")]),
    ([Forged(1), Forged(3)], [(3, "it follows revision 1")]),
    ([Forged(1, hash=FALSE), Forged(2)], [(1, NOT_SAID)]),
    ([Forged(1), Forged(2, previous_hash=FALSE), Forged(3)], [(2, NOT_CARRIED)]),
    ([Forged(1), Forged(2, on_date="2026-03-01")], [(2, "its business day is before that of the revision before")]),
    ([Forged(1, entries=[])], [(1, NOT_NUMBERED)]),
    ([Forged(1, entries=[(1, "{}"), (3, "{}")])], [(1, NOT_NUMBERED)]),
    ([Forged(1, entries=[(2, "{}")])], [(1, NOT_NUMBERED)])])
def test_what_no_ledger_writes_is_a_break_although_its_hash_is_right(
        connection: Connection, revisions: list[Forged], breaks: list[tuple[int, str]]) -> None:
    written(connection, revisions)
    assert broken(connection) == breaks


def test_entries_of_revisions_that_are_not_there_are_told_in_order(connection: Connection) -> None:
    written(connection, [Forged(1), Forged(2), Forged(5)])
    for stray in (9, 0, 3, 4, 7):
        a_stray(connection, stray)
    assert broken(connection) == [(5, "it follows revision 2"), *(
        (stray, "it has entries and is not there") for stray in (0, 3, 4, 7, 9))]


def test_where_revisions_cannot_be_read_any_more_is_told(connection: Connection) -> None:
    written(connection, four())
    connection.execute(text("UPDATE revision SET made_at = 'yesterday' WHERE number = 3"))
    told = broken(connection)
    assert [revision for revision, _ in told] == [3, 3, 4, 0]
    assert told[0][1].startswith("from here on revisions cannot be read: ")
    assert "yesterday" in told[0][1]
    assert told[3] == (0, "the head says revision 4, the chain ends at 2")
    connection.execute(text("UPDATE revision SET made_at = 'yesterday' WHERE number = 1"))
    assert [revision for revision, _ in broken(connection)] == [1, 1, 2, 3, 4, 0]


@pytest.mark.parametrize("head", [
    {"revision": 3}, {"revision": 5}, {"hash": FALSE}, {"figures_revision": 3}, {"figures_revision": 1},
    {"figures_hash": FALSE}, {"on_date": "2026-03-02"}, {"on_date": "2026-03-04"}])
def test_the_head_says_where_the_chain_ends(connection: Connection, head: dict[str, Any]) -> None:
    written(connection, four(), **{"figures_revision": 4, **head} if head.get("revision") != 3 else {
        "figures_revision": 2, **head})
    assert broken(connection) == [(0, f"the head says revision {head.get('revision', 4)}, the chain ends at 4")]


def test_the_head_of_an_empty_chain_has_any_day_and_no_other_hash(connection: Connection) -> None:
    written(connection, [], hash=FALSE)
    assert broken(connection) == [(0, "the head says revision 0, the chain ends at 0")]


def test_the_head_s_figures_are_those_of_the_last_revision_that_moved_any(connection: Connection) -> None:
    hashes = written(connection, [*four()[:3]])
    assert broken(connection) == []
    connection.execute(text("UPDATE ledger_head SET figures_revision = 3, figures_hash = :hash"), {"hash": hashes[2]})
    assert broken(connection) == [(0, "the head says revision 3, the chain ends at 3")]


def test_a_chain_without_a_head_is_told(connection: Connection) -> None:
    written(connection, four())
    connection.execute(text("DELETE FROM ledger_head"))
    assert verify_on(connection, {}) == [ChainBreak(0, "there is no head")]


def test_breaks_are_told_as_sentences_and_how_far_it_has_come(
        connection: Connection, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(verifying, "_AT_ONCE", 2)
    written(connection, four(), hash=FALSE)
    steps: list[tuple[str, int]] = []
    assert [*told_on(connection, {}, True, lambda what, done: steps.append((what, done)))] == [
        "revision 0: the head says revision 4, the chain ends at 4."]
    assert steps == [("revisions walked", 2), ("revisions walked", 4)]


def test_what_the_tables_beside_it_say_comes_after_it_in_the_same_view(
        connection: Connection, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a stand-in for what is found beside the chain."""
    looked_at: list[Connection] = []

    def astray(seen: Connection, progress: Callable[[int], None]) -> Iterator[Astray]:
        looked_at.append(seen)
        progress(9)
        yield Astray(2, "price", "leg", "no entry made its row")

    monkeypatch.setattr(verifying, "astray", astray)
    hashes = written(connection, four())
    opened: Any = SimpleNamespace(one_view=lambda: nullcontext(connection), read=lambda: nullcontext(connection))
    steps: list[tuple[str, int]] = []
    beside = "revision 2, price leg: no entry made its row."
    noted = "revision 1: its hash is not the one noted earlier."
    told = [*verifying.told(opened, {1: FALSE}, False, lambda what, done: steps.append((what, done)))]
    assert (told, steps, looked_at) == ([noted, beside], [("rows compared", 9)], [connection])
    assert [*verifying.told(opened, {1: FALSE}, True, lambda what, done: steps.append((what, done)))] == [noted]
    assert [*told_on(connection, {1: hashes[0]}, False)] == [beside]
    assert (verifying.verify(opened), verifying.verify(opened, {1: FALSE})) == (
        [], [ChainBreak(1, "its hash is not the one noted earlier")])
