"""The tables beside the chain, held to it: each row was made by an entry, and says what that entry's document says.

Rows are read in the order they were made, with their parts and their entries streamed beside them, so that memory stays
small. Compared is what both the row and the document carry: documents of before a migration lack what it brought. Of
versions also that one takes the place of the other without a gap; of entries that none lacks the row it made.
"""

import json
from collections.abc import Callable, Iterator, Mapping
from datetime import date
from typing import Any

from sqlalchemy import Connection, Table, and_, exists, select

from service.domain.history import Mark
from service.persistence.astray import Astray, compared
from service.persistence.records import price as prices
from service.persistence.records import yield_test as tests
from service.persistence.records.shelf import Codes, Parts, Shelf
from service.persistence.records.shelves import IDENTITIES, SHELVES
from service.persistence.rows_with_entries import AT_ONCE, PartsBeside, streamed, with_entries
from service.persistence.tables import chain, feed_links, margin_alerts, observed, sales, webhooks
from service.persistence.verifying_alerts import acknowledgements_astray, alerts_astray, webhooks_astray
from service.use_cases.canonical import instant_text
from service.use_cases.documents import document, price_entry, yield_test_document

_OF_KEYS = ("id", "name", "scopes", "requests_per_minute", "lists", "fields", "delimiter", "bom")
_SECOND = len("2026-11-26T10:13:25")
"""Entries tell when a key expires to the second."""
_OUTPUTS = Parts(observed.yield_test_output, tests.weighed_rows, tests.weighed)
Progress = Callable[[int], None]


def astray(connection: Connection, progress: Progress = lambda _rows: None) -> Iterator[Astray]:
    """Everything beside the chain that does not follow from it."""
    count = _Count(progress)
    yield from _engine_s_own(connection)
    codes: dict[str, dict[int, str]] = {
        table.name: dict(connection.execute(select(table.c.id, table.c.code)).all())
        for table in IDENTITIES}
    looks: list[tuple[str, Iterator[Astray]]] = []
    for shelf in SHELVES.values():
        looks += [(shelf.kind, _versions(connection, shelf, codes, count)),
                  (shelf.kind, _rowless(connection, shelf.kind, ("keep", "retire"), shelf.versions))]
    made = margin_alerts.margin_alert_acknowledgement
    looks += [
        ("price", _observed(connection, "price", observed.price, None, codes, count)),
        ("price", _rowless(connection, "price", ("record_price",), observed.price)),
        ("yield_test", _observed(connection, "yield_test", observed.yield_test, _OUTPUTS, codes, count)),
        ("yield_test", _rowless(connection, "yield_test", ("record_yield_test",), observed.yield_test)),
        ("sales", _sales(connection, count)),
        ("sales", _rowless(connection, "sales", ("record_sales",), sales.sales_day)),
        ("key", _rowless(connection, "key", ("create_key",), chain.access_key)),
        ("feed", _rowless(connection, "feed", ("create_feed",), feed_links.feed_link)),
        ("key", _keys(connection, "key", chain.access_key)),
        ("feed", _keys(connection, "feed", feed_links.feed_link)),
        ("margin_alert", _rowless(connection, "margin_alert", ("acknowledge",), made)),
        ("margin_alert", acknowledgements_astray(connection)),
        ("margin_alert", alerts_astray(connection)),
        ("webhook", _rowless(connection, "webhook", ("create_webhook",), webhooks.webhook)),
        ("webhook", webhooks_astray(connection))]
    for kind, look in looks:
        try:
            yield from look
        except (ValueError, TypeError, LookupError) as wrong:
            yield Astray(0, kind, "", f"its rows cannot be read: {type(wrong).__name__} {wrong}")


class _Count:
    def __init__(self, progress: Progress) -> None:
        self.rows, self.progress = 0, progress

    def one(self) -> None:
        self.rows += 1
        if self.rows % AT_ONCE == 0:
            self.progress(self.rows)


def _engine_s_own(connection: Connection) -> Iterator[Astray]:
    """What SQLite itself finds: pages and indexes that do not agree, references to nothing."""
    if connection.dialect.name != "sqlite":
        return
    for (told,) in connection.exec_driver_sql("PRAGMA integrity_check(20)"):
        if told != "ok":
            yield Astray(0, "file", "", f"SQLite finds: {told}")
    for table, _, parent, _ in connection.exec_driver_sql("PRAGMA foreign_key_check").fetchmany(20):
        yield Astray(0, "reference", table, f"a row refers to a {parent} that is not there")


def _versions(connection: Connection, shelf: Shelf, codes: Codes, count: _Count) -> Iterator[Astray]:
    parts = PartsBeside(connection, shelf.parts)
    standing: dict[tuple[int, date | None], tuple[int, int | None]] = {}
    for row in with_entries(connection, shelf.versions):
        count.one()
        owner = getattr(row, shelf.identity_column)
        code = codes[shelf.identity.name].get(owner, f"number {owner}")
        made = Mark(row.made_revision, row.made_entry)
        if row.action in ("keep", "retire") and (row.action == "retire") != row.retired:
            yield Astray(made.revision, shelf.kind, code, "its row and its entry differ in whether it was retired")
        yield from _held(row, shelf.kind, code, lambda row=row, code=code, made=made: document(  # type: ignore[misc]
            shelf.record(code, row, parts.of(made, codes), codes)) | {"effective_from": row.effective_from})
        before = standing.get((owner, row.effective_from))
        if before is not None and before[1] != made.revision:
            yield Astray(before[0], shelf.kind, code, f"its row is replaced by {before[1] or 'none'}, and revision "
                         f"{made.revision} took its place")
        standing[owner, row.effective_from] = (made.revision, row.replaced_revision)
    for (owner, _), (revision, replaced) in standing.items():
        if replaced is not None:
            yield Astray(revision, shelf.kind, codes[shelf.identity.name].get(owner, ""), f"its row is replaced by "
                         f"revision {replaced}, which brought none in its place")
    yield from _strays(shelf.kind, parts)


def _observed(connection: Connection, kind: str, table: Table, with_parts: Parts | None, codes: Codes, count: _Count
              ) -> Iterator[Astray]:
    """Prices and yield tests, and what took them back."""
    parts = PartsBeside(connection, with_parts)
    owner, word = ("ingredient", "withdrawn") if kind == "price" else ("breakdown", "set_aside")
    width = len(table.c)
    for row in with_entries(connection, table):
        count.one()
        made = Mark(row.made_revision, row.made_entry)
        number = getattr(row, f"{owner}_id")
        code = codes[owner].get(number, f"number {number}")

        def said(row: Any = row, made: Mark = made) -> Mapping[str, Any]:
            if kind == "price":
                return price_entry(prices.price(tuple(row)[:width], codes, made.revision))
            told = yield_test_document(tests.yield_test(row, parts.of(made, codes), codes, made.revision))
            return {name: value for name, value in told.items() if name not in ("id", "revision", "set_aside")}

        yield from _held(row, kind, code, said)
    taken, entry = table.c[f"{word}_revision"], chain.entry.c
    back = and_(entry.revision == taken, entry.number == table.c[f"{word}_entry"])
    asked = select(*table.primary_key.columns, taken.label("by"), table.c[f"{word}_reason"].label("reason"),
                   entry.kind, entry.document).outerjoin_from(table, chain.entry, back).where(taken.is_not(None))
    for row in streamed(connection, asked):
        told = {} if row.document is None else json.loads(row.document)
        name = f"{row.made_revision}-{row.made_entry}"
        if row.kind != kind or told.get("id", name) != name or told.get("reason", row.reason) != row.reason:
            yield Astray(row.by, kind, name, f"its row is {word.replace('_', ' ')}, and the entry does not say so")
    yield from _strays(kind, parts)


def _sales(connection: Connection, count: _Count) -> Iterator[Astray]:
    parts = PartsBeside(connection, Parts(sales.sales_line, lambda *_: [], lambda row, _: {
        "pos_code": row.pos_code, "quantity": row.quantity, "net_takings": row.net_takings, "kind": row.kind}))
    for row in with_entries(connection, sales.sales_day):
        count.one()
        made = Mark(row.made_revision, row.made_entry)
        yield from _held(row, "sales", row.business_date.isoformat(), lambda row=row, made=made: {  # type: ignore[misc]
            "business_date": row.business_date, "lines": parts.of(made, {})})
    yield from _strays("sales", parts)


def _keys(connection: Connection, kind: str, table: Table) -> Iterator[Astray]:
    """Keys and feed links: made as an entry says, and revoked exactly where one says so."""
    entry, later = chain.entry.c, chain.entry.alias("later").c
    revoked = exists().where(later.kind == kind, later.code == table.c.id, later.action.like("revoke%"))
    made = and_(entry.revision == table.c.made_revision, entry.kind == kind, entry.code == table.c.id,
                entry.action.not_like("revoke%"))
    asked = select(table, entry.document, revoked.correlate(table).label("said")).outerjoin_from(
        table, chain.entry, made)
    for row in streamed(connection, asked.order_by(table.c.made_revision)):
        said = {name: getattr(row, name) for name in _OF_KEYS if name in table.c}
        if kind == "feed":
            said |= {"decimal": row.decimal_mark, "made_by": row.made_by}
        yield from compared(row.made_revision, kind, row.id, row.document, said)
        recorded, ends = {} if row.document is None else json.loads(row.document), row.expires_at
        said_to_end, to_end = recorded.get("expires_at") or "", "" if ends is None else instant_text(ends)
        if recorded and said_to_end[:_SECOND] != to_end[:_SECOND]:
            yield Astray(row.made_revision, kind, row.id, f"its row expires at {ends}, and its entry says otherwise")
        if (row.revoked_at is not None) != row.said and row.document is not None:
            yield Astray(row.made_revision, kind, row.id, "its row and its entries differ in whether it was revoked")


def _rowless(connection: Connection, kind: str, actions: tuple[str, ...], table: Table) -> Iterator[Astray]:
    entry = chain.entry.c
    same = table.c.made_entry == entry.number if "made_entry" in table.c else table.c.id == entry.code
    has = exists().where(table.c.made_revision == entry.revision, same)
    asked = select(entry.revision, entry.code).where(entry.kind == kind, entry.action.in_(actions), ~has)
    for row in streamed(connection, asked.order_by(entry.revision)):
        yield Astray(row.revision, kind, row.code, "its entry is there, and the row that it made is not")


def _strays(kind: str, parts: PartsBeside) -> Iterator[Astray]:
    for revision, entry in parts.left_over():
        yield Astray(revision, kind, f"{revision}-{entry}", "there are parts of a row that is not there")


def _held(row: Any, kind: str, code: str, said: Callable[[], Mapping[str, Any]]) -> Iterator[Astray]:
    if row.document is not None and (row.kind_of_entry, row.code_of_entry) != (kind, code):
        yield Astray(row.made_revision, kind, code,
                     f"its row was made by an entry about {row.kind_of_entry} {row.code_of_entry!r}")
        return
    try:
        told = said()
    except (LookupError, ValueError, TypeError) as wrong:
        yield Astray(row.made_revision, kind, code, f"its row cannot be read: {type(wrong).__name__} {wrong}")
        return
    yield from compared(row.made_revision, kind, code, row.document, told)
