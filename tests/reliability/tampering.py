"""T21: tampering shows. Somebody who may change the database takes its guards away and changes, removes, swaps or adds
something: in the chain, in its head, or in the tables beside it. Each time `verify` names where.

Each case is undone again. Random ones first; in the long form then every byte of every entry's document, one after the
other: another letter in its place must be told at that entry's revision, whatever else is told of the tables, which are
held to the chain at every 25th byte. What is cut off at the end shows against a hash noted before. Not found, and not
promised, is what no entry says: hashes of secrets, moments to the fraction of a second, last uses.
"""

import random
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from sqlalchemy import Column, Connection, RootTransaction, Table, and_, func, select, update
from sqlalchemy.exc import IntegrityError

from service.persistence.column_types import Day, Flag, Instant, Millionths
from service.persistence.engines import Engines, open_engines
from service.persistence.records.shelves import IDENTITIES
from service.persistence.tables import chain, feed_links, margin_alerts, observed, records, sales, webhooks
from service.persistence.verifying import told_on
from tests.persistence.guards import take_guards_away
from tests.reliability import sabotage
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.small_ledger import fill_with_all

KEPT = (chain.revision, chain.entry, chain.ledger_head, records.supplier_version, records.ingredient_version,
        records.breakdown_version, records.breakdown_output, records.recipe_version, records.recipe_line,
        records.dish_version, records.dish_line, records.kitchen_settings_version, observed.price, observed.yield_test,
        observed.yield_test_output, sales.sales_day, sales.sales_line, chain.access_key, records.supplier_item_version,
        feed_links.feed_link, margin_alerts.margin_alert, margin_alerts.margin_alert_acknowledgement, webhooks.webhook)
AT_RANDOM, TABLES_TOO_EVERY = 2_100, 25
UNSAID = {"secret_hash", "token_hash", "made_at_of_webhook", "created_at", "last_used_at", "revoked_at", "position",
          "promised", "url", "section_of_margin_alert", "told"}
"""What no entry says; and what a margin alert tells of figures, which are looked at beside."""


@dataclass(frozen=True)
class Tampered:
    """What was done, and what a finding must name (one of these)."""

    what: str
    named: tuple[str, ...]
    anchored: bool = False


def run(run: Run) -> Verdict:
    """Tamper, verify, undo."""
    engines, chance = open_engines(run.database_url), random.Random(run.seed)
    head = fill_with_all(engines).head()
    take_guards_away(engines)
    faults: list[str] = []
    done, flips = 0, 0
    with sabotage.broken(run.sabotage):
        tries = 0
        while done < min(run.cases, AT_RANDOM) and run.in_time:
            tries += 1
            with engines.writing.connect() as connection, _without_references(connection) as transaction:
                tampered = _tamper(connection, chance, tries)
                if tampered is not None:
                    anchors = {head.revision: head.hash} if tampered.anchored else {}
                    found = list(told_on(connection, anchors, quick=False))
                    if not any(name in told for told in found for name in tampered.named):
                        faults.append(f"{tampered.what}: told was {found[:3]}")
                    done += 1
                transaction.rollback()
        if run.cases > PROGRAMME.short:
            flips, missed = _flips(engines, run, run.cases - done)
            faults += missed
        with engines.one_view() as connection:
            if whole := list(told_on(connection, {head.revision: head.hash}, quick=False)):
                faults.append(f"nothing was changed, and yet: {whole[:3]}")
    engines.dispose()
    return Verdict(done + flips, tuple(faults[:20]), {"missed": len(faults), "bytes of documents changed": flips})


def _flips(engines: Engines, run: Run, most: int) -> tuple[int, list[str]]:
    """Change each byte of each document: how many were changed, and which of them went unnoticed."""
    faults, done = list[str](), 0
    with engines.writing.connect() as connection, connection.begin() as transaction:
        entries = connection.execute(select(chain.entry)).all()
        for row in entries:
            kept, where = row.document.encode(), _where(chain.entry, row)
            for place in range(len(kept)):
                if done >= most or not run.in_time:
                    break
                connection.execute(update(chain.entry).where(where).values(document=_flipped(kept, place)))
                done += 1
                found = list(told_on(connection, {}, quick=place % TABLES_TOO_EVERY > 0))
                if not any(told.startswith(f"revision {row.revision}:") for told in found):
                    what = f"byte {place} of entry {row.number} of revision {row.revision}"
                    faults.append(f"{what}: told was {found[:3]}")
            connection.execute(update(chain.entry).where(where).values(document=row.document))
        transaction.rollback()
    return done, faults


def _flipped(document: bytes, place: int) -> str:
    """A document with another byte at a place: the first that makes text of it, by the bit that is changed."""
    for bit in range(7):
        changed = bytearray(document)
        changed[place] ^= 1 << bit
        with suppress(UnicodeDecodeError):
            if changed[place]:  # no database keeps U+0000 in a text
                return changed.decode()
    raise AssertionError(f"no other byte fits at {place} of {document!r}")


@contextmanager
def _without_references(connection: Connection) -> Iterator[RootTransaction]:
    """A transaction in which references are not looked at."""
    driver_connection: Any = connection.connection.driver_connection
    if connection.dialect.name == "sqlite":
        driver_connection.execute("PRAGMA foreign_keys=OFF").close()
    with connection.begin() as transaction:
        if connection.dialect.name == "postgresql":
            connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
        yield transaction


def _tamper(connection: Connection, chance: random.Random, case: int) -> Tampered | None:
    ways = (_change, _change, _change, _remove, _swap, _append, _cut)
    return ways[case % len(ways)](connection, chance)


def _row(connection: Connection, chance: random.Random, table: Table) -> Any:
    count = connection.scalar(select(func.count()).select_from(table)) or 0
    asked = select(table).order_by(*table.primary_key.columns).offset(chance.randrange(count)).limit(1)
    return connection.execute(asked).one()


def _where(table: Table, row: Any) -> Any:
    return and_(*(column == getattr(row, column.name) for column in table.primary_key.columns))


def _revision_of(table: Table, row: Any) -> int:
    if table is chain.ledger_head:
        return 0
    return row.number if table is chain.revision else getattr(row, "made_revision", None) or row.revision


def _change(connection: Connection, chance: random.Random) -> Tampered | None:
    table = chance.choice((*KEPT, *IDENTITIES))
    keys = set(table.primary_key.columns.keys())
    column = chance.choice([one for one in table.c if one.name not in UNSAID | keys
                            and f"{one.name}_of_{table.name}" not in UNSAID])
    row = _row(connection, chance, table)
    held = getattr(row, column.name)
    try:
        connection.execute(update(table).where(_where(table, row)).values({column.name: _other(column, held, chance)}))
    except IntegrityError:
        return None  # a check of the table itself stands, which cannot be taken away on SQLite
    if table in IDENTITIES:
        return Tampered(f"the code {held!r} of a {table.name}", (held.rpartition("/")[2],))
    revision = _revision_of(table, row)
    what = f"{table.name}.{column.name} of revision {revision}, which was {held!r}"
    return Tampered(what, _names(revision, column, row))


def _names(revision: int, column: Column[Any], row: Any) -> tuple[str, ...]:
    """It is named at the row's own revision, or at the one that took the record back, or that it names now; that SQLite
    finds fault with the file, or that some row of a kind cannot be read, names nothing."""
    word = column.name.rpartition("_")[0]
    spoken_of = [getattr(row, name, None) for name in (column.name, f"{word}_revision")]
    near = [number + step for number in spoken_of if isinstance(number, int) for step in (0, 1)]
    places = [f"revision {one}," for one in (revision, *near)]
    return (f"revision {revision}:", *places)


def _other(column: Column, held: Any, chance: random.Random) -> Any:
    """Another value, which the column's type takes and its checks let pass where that can be had."""
    if isinstance(column.type, Flag):
        return not held
    if isinstance(column.type, Day):
        return (held or date(2026, 3, 1)) + timedelta(days=1)
    if isinstance(column.type, Instant):
        return None if column.nullable and held else (held or datetime.now(UTC)) + timedelta(seconds=7)
    if isinstance(held, str):
        place = chance.randrange(len(held)) if held else 0
        return held[:place] + ("x" if held[place:place + 1] != "x" else "y") + held[place + 1:]
    if isinstance(held, tuple | list | dict):
        return [*held, "x"] if not isinstance(held, dict) else {**held, "x": "1"}
    if held is None:
        return Decimal(1) if isinstance(column.type, Millionths) else 1 if column.type.python_type is int else "x"
    return held + 1


def _remove(connection: Connection, chance: random.Random) -> Tampered:
    table = chance.choice(KEPT)
    row = _row(connection, chance, table)
    connection.execute(table.delete().where(_where(table, row)))
    revision = _revision_of(table, row)
    after = (f"revision {revision + 1}:",) if table is chain.revision else (table.name,)
    return Tampered(f"a row of {table.name} of revision {revision} removed",
                    (f"revision {revision}:", f"revision {revision},", *after))


def _swap(connection: Connection, chance: random.Random) -> Tampered | None:
    entry = chain.entry.c
    rows = connection.execute(select(chain.entry).order_by(entry.revision, entry.number)).all()
    one, other = chance.sample(rows, 2)
    if one.document == other.document:
        return None
    for row, by in ((one, other), (other, one)):
        connection.execute(update(chain.entry).where(_where(chain.entry, row)).values(document=by.document))
    return Tampered(f"documents of {one.revision} and {other.revision} swapped", (f"revision {one.revision}:",))


def _append(connection: Connection, chance: random.Random) -> Tampered:
    table = chance.choice((chain.entry, observed.price))
    row = _row(connection, chance, table)._asdict()
    revision = row.get("made_revision") or row["revision"]
    row["number" if table is chain.entry else "made_entry"] += 50
    connection.execute(table.insert().values(row))
    return Tampered(f"a row of {table.name} added to revision {revision}",
                    (f"revision {revision}:", f"revision {revision},"))


def _cut(connection: Connection, chance: random.Random) -> Tampered:
    """The last revision goes, with all that it made, and the head says the one before: against an anchor."""
    last, before = connection.execute(
        select(chain.revision).order_by(chain.revision.c.number.desc()).limit(2)).all()
    for table in KEPT:
        if "made_revision" in table.c:
            connection.execute(table.delete().where(table.c.made_revision == last.number))
    connection.execute(chain.entry.delete().where(chain.entry.c.revision == last.number))
    connection.execute(chain.revision.delete().where(chain.revision.c.number == last.number))
    connection.execute(update(chain.ledger_head).values(
        revision=before.number, hash=before.hash, promised=before.number, on_date=before.on_date))
    return Tampered("the tail cut off", (f"revision {last.number}: it was noted earlier",), anchored=True)


PROGRAMME = Programme(
    "tampering", "T21", "what is changed, removed, swapped, added or cut off is found and named", "tamperings", 56,
    10_000, run, sabotages=("chain_not_hashed", "rows_not_compared"))
