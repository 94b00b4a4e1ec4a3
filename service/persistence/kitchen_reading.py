"""The kitchen as known at a revision, read in a fixed number of statements however much is recorded.

Rules that always hold: a version is known at revision r when it was made by then and not replaced by then; a
withdrawal when it was made by then. So what is read for r never changes again, whatever is written meanwhile. A kept
kitchen advances by reading only the records that the entries in between name; the result equals a full load.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import chain as one_after_another
from itertools import groupby
from operator import attrgetter, itemgetter
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, Table, and_, case, literal, or_, select, union_all

from service.domain.history import Mark, Version
from service.domain.kitchen import EMPTY, Kitchen
from service.domain.price import Price
from service.persistence.records import price as prices
from service.persistence.records import yield_test as tests
from service.persistence.records.shelf import Numbering, Parts, Shelf
from service.persistence.records.shelves import IDENTITIES, SHELVES
from service.persistence.tables import chain, observed

MOST_READ_BY_NUMBER = 500
"""Beyond so many touched records of a kind, reading all of the kind is cheaper than naming each."""

Only = Collection[int] | None
ROWS_AT_ONCE = 2_000
"""Prices are many: their rows are let go as they become records, or reading them would take thrice what they hold."""
_OUTPUTS = Parts(observed.yield_test_output, tests.weighed_rows, tests.weighed)
_MARK = itemgetter(0, 1)


@dataclass(frozen=True)
class KnownKitchen:
    """A kitchen, and the numbering of identities it was read with (which only grows)."""

    kitchen: Kitchen
    numbering: Numbering


def load(connection: Connection, revision: int) -> KnownKitchen:
    """The whole kitchen as known at `revision`."""
    numbering = Numbering()
    _learn_identities(connection, numbering)
    histories = {kind: _histories(connection, shelf, numbering, revision) for kind, shelf in SHELVES.items()}
    return KnownKitchen(
        _kitchen(revision, histories, _prices(connection, numbering, revision),
                 _yield_tests(connection, numbering, revision)),
        numbering)


def advance(connection: Connection, known: KnownKitchen, revision: int) -> KnownKitchen:
    """The kitchen at a later revision, reading only what the entries in between touched.

    The numbering of `known` grows in place: whoever advances holds the lock of the one that keeps it.
    """
    touched = _touched(connection, known.kitchen.revision, revision)
    if not touched:
        return KnownKitchen(replace(known.kitchen, revision=revision), known.numbering)
    numbering = known.numbering
    if touched.keys() != {"price"}:
        _learn_identities(connection, numbering)
    old = known.kitchen
    histories = dict(_histories_of(old))
    for kind in touched.keys() & SHELVES.keys():
        shelf = SHELVES[kind]
        only = _numbers(numbering, shelf.identity.name, touched[kind])
        histories[kind] = _merged(_histories_of(old)[kind], touched[kind], only,
                                  _histories(connection, shelf, numbering, revision, only))
    new_prices, new_tests = old.prices, old.yield_tests
    if "price" in touched:
        new_prices = _with_prices(old.prices, _prices_since(connection, numbering, old.revision, revision))
    if "yield_test" in touched:
        only = _numbers(numbering, "breakdown", touched["yield_test"])
        new_tests = _merged(old.yield_tests, touched["yield_test"], only,
                            _yield_tests(connection, numbering, revision, only))
    return KnownKitchen(_kitchen(revision, histories, new_prices, new_tests), numbering)


def _histories_of(kitchen: Kitchen) -> dict[str, Mapping[str, Any]]:
    return {
        "settings": {"settings": kitchen.settings} if kitchen.settings else {},
        "supplier": kitchen.suppliers,
        "ingredient": kitchen.ingredients,
        "breakdown": kitchen.breakdowns,
        "recipe": kitchen.recipes,
        "dish": kitchen.dishes,
        "supplier_item": kitchen.supplier_items,
    }


def _kitchen(revision: int, histories: Mapping[str, Mapping[str, Any]], prices_by_ingredient: Mapping[str, Any],
             tests_by_breakdown: Mapping[str, Any]) -> Kitchen:
    return replace(
        EMPTY,
        revision=revision,
        settings=histories["settings"].get("settings", ()),
        suppliers=histories["supplier"],
        ingredients=histories["ingredient"],
        prices=prices_by_ingredient,
        breakdowns=histories["breakdown"],
        yield_tests=tests_by_breakdown,
        recipes=histories["recipe"],
        dishes=histories["dish"],
        supplier_items=histories["supplier_item"],
    )


def _learn_identities(connection: Connection, numbering: Numbering) -> None:
    """Read the identities that are new since the last time: their numbers only grow."""
    for table in IDENTITIES:
        numbering.codes.setdefault(table.name, {})
        numbering.ids.setdefault(table.name, {})
    asked = [
        select(literal(table.name).label("identity"), table.c.id, table.c.code)
        .where(table.c.id > max(numbering.codes[table.name], default=0))
        for table in IDENTITIES
    ]
    # All rows first: learned in part, the greatest number would hide the others the next time.
    for identity, number, code in connection.execute(union_all(*asked)).all():
        numbering.learn(identity, number, code)


def _touched(connection: Connection, after: int, up_to: int) -> dict[str, set[str]]:
    """By kind, the codes that entries name; of prices that there are some: those that are new are read by revision."""
    entry = chain.entry.c
    code = case((entry.kind == "price", ""), else_=entry.code)
    asked = select(entry.kind, code).where(entry.revision > after, entry.revision <= up_to).distinct()
    touched: dict[str, set[str]] = {}
    for kind, named in connection.execute(asked):
        touched.setdefault(kind, set()).add(named)
    return touched


def _numbers(numbering: Numbering, identity: str, codes: Iterable[str]) -> Only:
    """The numbers of the touched records, or None for all of them."""
    ids = numbering.ids[identity]
    numbers = [ids[code] for code in codes if code in ids]
    return numbers if len(numbers) <= MOST_READ_BY_NUMBER else None


def _merged(old: Mapping[str, Any], touched: Collection[str], only: Only, fresh: dict[str, Any]) -> dict[str, Any]:
    if only is None:
        return fresh
    kept = {code: value for code, value in old.items() if code not in touched}
    kept.update(fresh)
    return kept


def _known(versions: Table, revision: int) -> ColumnElement[bool]:
    replaced = versions.c.replaced_revision
    return and_(versions.c.made_revision <= revision, or_(replaced.is_(None), replaced > revision))


def _only(asked: Select[Any], column: ColumnElement[int], only: Only) -> Select[Any]:
    return asked if only is None else asked.where(column.in_(only))


def _histories(connection: Connection, shelf: Shelf, numbering: Numbering, revision: int,
               only: Only = None) -> dict[str, Any]:
    versions, codes = shelf.versions, numbering.codes
    owner = versions.c[shelf.identity_column]
    known = _known(versions, revision)
    parts = {} if shelf.parts is None else _parts(connection, shelf.parts, versions, known, owner, only, codes)
    asked = _only(select(versions).where(known), owner, only).order_by(versions.c.made_revision, versions.c.made_entry)
    own_codes = codes[shelf.identity.name]
    found: dict[str, list[Version[Any]]] = {}
    for row in connection.execute(asked).all():
        code = own_codes[getattr(row, shelf.identity_column)]
        mark = (row.made_revision, row.made_entry)
        record = shelf.record(code, row, parts.get(mark, ()), codes)
        found.setdefault(code, []).append(Version(record, Mark(*mark), row.effective_from, row.retired))
    return {code: tuple(history) for code, history in found.items()}


def _parts(connection: Connection, parts: Parts, owners: Table, known: ColumnElement[bool],
           owner: ColumnElement[int], only: Only, codes: Any) -> dict[tuple[int, int], tuple[Any, ...]]:
    table, part = parts.table, parts.part
    same = and_(table.c.made_revision == owners.c.made_revision, table.c.made_entry == owners.c.made_entry)
    asked = _only(select(table).join(owners, same).where(known), owner, only)
    ordered = asked.order_by(table.c.made_revision, table.c.made_entry, table.c.position)
    rows = connection.execute(ordered).all()
    return {mark: tuple([part(row, codes) for row in group]) for mark, group in groupby(rows, _MARK)}


def _prices(connection: Connection, numbering: Numbering, revision: int) -> dict[str, Any]:
    table = observed.price
    asked = select(table).where(table.c.made_revision <= revision)
    ordered = asked.order_by(table.c.made_revision, table.c.made_entry)
    rows = one_after_another.from_iterable(connection.execute(ordered).partitions(ROWS_AT_ONCE))
    return _by(attrgetter("ingredient"), (prices.price(row, numbering.codes, revision) for row in rows))


def _prices_since(connection: Connection, numbering: Numbering, after: int, revision: int) -> list[Price]:
    """The prices made or withdrawn after one revision, as known at a later one, in the order they were made."""
    made, withdrawn = observed.price.c.made_revision, observed.price.c.withdrawn_revision
    asked = union_all(
        select(observed.price).where(made <= after, withdrawn > after, withdrawn <= revision),
        select(observed.price).where(made > after, made <= revision))
    return [prices.price(row, numbering.codes, revision) for row in sorted(connection.execute(asked).all(), key=_MARK)]


def _with_prices(old: Mapping[str, Any], since: Iterable[Price]) -> dict[str, Any]:
    """Prices that are there already take their place again, withdrawn now; the others come after them."""
    merged = dict(old)
    for code, fresh in _by(attrgetter("ingredient"), since).items():
        again = {price.made: price for price in fresh}
        merged[code] = (*(again.pop(price.made, price) for price in old.get(code, ())), *again.values())
    return merged


def _yield_tests(connection: Connection, numbering: Numbering, revision: int, only: Only = None) -> dict[str, Any]:
    table, codes = observed.yield_test, numbering.codes
    known, owner = table.c.made_revision <= revision, table.c.breakdown_id
    parts = _parts(connection, _OUTPUTS, table, known, owner, only, codes)
    asked = _only(select(table).where(known), owner, only).order_by(table.c.made_revision, table.c.made_entry)
    made = (
        tests.yield_test(row, parts.get((row.made_revision, row.made_entry), ()), codes, revision)
        for row in connection.execute(asked)
    )
    return _by(lambda one: one.breakdown, made)


def _by(key: Callable[[Any], str], records: Iterable[Any]) -> dict[str, Any]:
    found: dict[str, list[Any]] = {}
    for record in records:
        found.setdefault(key(record), []).append(record)
    return {code: tuple(group) for code, group in found.items()}
