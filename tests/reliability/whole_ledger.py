"""Looks at a ledger after it was broken into: is every acknowledged write there, once, and none half of it?

It reads the tables beside the chain, and holds what writers noted to both. `seamcost verify` has its say too.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from click.testing import CliRunner
from sqlalchemy import func, select

from service.cli.commands import main as command_line
from service.domain.history import Mark
from service.persistence.engines import Engines, open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.tables import chain
from service.persistence.tables.records import supplier, supplier_version
from service.persistence.verifying import verify
from service.use_cases.ports import RecordedEntry
from tests.reliability.steady_writers import INGREDIENT, Writer

AT_ONCE = 5_000


@dataclass
class Look:
    """What was found: how many revisions there are, how many writes of the writers, and what is wrong."""

    revisions: int = 0
    stored: int = 0
    faults: list[str] = field(default_factory=list)


def look_at(database_url: str, writers: Sequence[Writer]) -> Look:
    """Hold the whole ledger to itself and to what the writers were told. They have ended."""
    engines = open_engines(database_url, pool_size=1)
    try:
        look = Look(faults=[f"{each.revision}: {each.detail}" for each in verify(engines)])
        _hold_counts(engines, look)
        ledger = SqlLedger(engines)
        entries = every_entry(ledger, look.revisions)
        _hold_prices(ledger, look, entries, writers)
        _hold_notes(engines, look, entries, writers)
    finally:
        engines.dispose()
    told = CliRunner().invoke(command_line, ["verify", "--database", database_url])
    if told.exit_code:
        look.faults.append(f"seamcost verify: {told.output} {told.exception or ''}")
    return look


def _hold_counts(engines: Engines, look: Look) -> None:
    with engines.read() as connection:
        head = connection.scalar(select(chain.ledger_head.c.revision))
        count, last = connection.execute(select(func.count(), func.max(chain.revision.c.number))).one()
        of_entries = connection.scalar(select(func.count(chain.entry.c.revision.distinct())))
        if engines.is_sqlite and (said := connection.exec_driver_sql("PRAGMA integrity_check").scalar()) != "ok":
            look.faults.append(f"integrity_check: {said}")
        if engines.is_sqlite and connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
            look.faults.append("foreign_key_check finds a reference to nothing")
    look.revisions = head or 0
    if not head == count == last == of_entries:
        look.faults.append(f"the head says {head}, there are {count} revisions up to {last}, {of_entries} with entries")


def every_entry(ledger: SqlLedger, head: int) -> list[RecordedEntry]:
    """All that was ever said, in its order."""
    found: list[RecordedEntry] = []
    while page := ledger.entries(found[-1].mark if found else Mark(0, 0), AT_ONCE, head):
        found += page
    return found


def _hold_prices(ledger: SqlLedger, look: Look, entries: Sequence[RecordedEntry], writers: Sequence[Writer]) -> None:
    """Entries and table agree price by price and in sum; each word is there once, at the revision that was told."""
    table = {price.made: (price.reference, price.amount) for price in ledger.kitchen(look.revisions).prices[INGREDIENT]}
    said = {entry.mark: (entry.document["reference"], Decimal(str(entry.document["amount"]))) for entry in entries
            if entry.kind == "price"}
    if table != said:
        look.faults.append(f"prices in the table and not in the entries, or the other way: "
                           f"{sorted(set(table.items()) ^ set(said.items()))[:5]}")
    there = {word: mark.revision for mark, (word, _) in table.items()}
    doubled = [word for word, count in Counter(word for word, _ in table.values()).items() if count > 1]
    look.faults += [f"price {word} is there twice" for word in doubled]
    look.stored += len(there)
    sent = {word: Decimal(amount) for writer in writers for word, amount in writer.amounts.items()}
    if sum(amount for _, amount in table.values()) != sum(sent[word] for word in there if word in sent):
        look.faults.append("the amounts stored do not add up to those sent")
    _hold_words(look, {word: number for writer in writers for word, number in writer.acknowledged.items()
                       if word in writer.amounts}, there, set(sent))


def _hold_notes(engines: Engines, look: Look, entries: Sequence[RecordedEntry], writers: Sequence[Writer]) -> None:
    """The same for suppliers' notes: every version that was ever in the table, with the entry that says it."""
    table = _notes(engines)
    for writer in writers:
        versions = table.get(writer.name, [])
        said = [(entry.mark.revision, entry.document["note"]) for entry in entries
                if (entry.kind, entry.code) == ("supplier", writer.name)]
        if versions != said:
            look.faults.append(f"the notes of {writer.name} are not as the entries say")
        there = {word: number for number, word in versions}
        if len(there) != len(versions):
            look.faults.append(f"a note of {writer.name} is there twice")
        look.stored += len(there)
        told = {word: number for word, number in writer.acknowledged.items() if word not in writer.amounts}
        sent = {f"{writer.name}-{number}" for number in range(writer.number + 1)} - set(writer.amounts)
        _hold_words(look, told, there, sent)


def _notes(engines: Engines) -> dict[str, list[tuple[int, str]]]:
    """Revision and note of every version of every supplier, in the order of the revisions."""
    version = supplier_version.c
    asked = select(supplier.c.code, version.made_revision, version.note).join(
        supplier, supplier.c.id == version.supplier_id).order_by(version.made_revision, version.made_entry)
    found: dict[str, list[tuple[int, str]]] = {}
    with engines.read() as connection:
        for code, revision, note in connection.execute(asked):
            found.setdefault(code, []).append((revision, note))
    return found


def _hold_words(look: Look, told: dict[str, int], there: dict[str, int], sent: set[str]) -> None:
    look.faults += [f"{word} was acknowledged at revision {number} and is "
                    f"{f'at {there[word]}' if word in there else 'not there'}"
                    for word, number in told.items() if there.get(word) != number]
    look.faults += [f"{word} is there and was never sent" for word in there if word not in sent]
