"""What stands on a day: of every history of a kind the record in force, of all prices those that may still count.

A kitchen that differs in a few records from another stands in all others as that one does: taking those over costs a
comparison each, and whoever compares the two kitchens later finds the very same records.
"""

from collections.abc import Mapping
from datetime import date

from service.domain.history import Histories, R, record_on, version_in_force
from service.domain.price import Price
from service.domain.supplier import Supplier
from service.domain.very_same import Copied, others


def standing(histories: Histories[R], day: date) -> Mapping[str, R]:
    """The records that stand on `day`."""
    records = ((code, record_on(history, day)) for code, history in histories.items())
    return {code: record for code, record in records if record is not None}


def standing_like(histories: Histories[R], day: date, known: Histories[R], stood: Mapping[str, R]) -> Mapping[str, R]:
    """The same, given how others stood on that day: only histories that are not the very same are looked up."""
    if histories is known:
        return stood
    moved = others(known, histories)
    if len(histories) != len(known) or any(code not in known for code in moved):
        return standing(histories, day)
    records = {code: record_on(histories[code], day) for code in moved}
    if any((record is None) == (code in stood) for code, record in records.items()):
        return standing(histories, day)
    after = Copied(stood)
    for code, record in records.items():
        if record is not None:
            after[code] = record
    return after if after.since else stood


def retired_suppliers(suppliers: Histories[Supplier], day: date) -> frozenset[str]:
    """The suppliers who are retired on `day`: what they offer counts no longer."""
    in_force = ((code, version_in_force(history, day)) for code, history in suppliers.items())
    return frozenset(code for code, version in in_force if version is not None and version.retired)


def without(prices: Mapping[str, tuple[Price, ...]], suppliers: frozenset[str]) -> Mapping[str, tuple[Price, ...]]:
    """The prices but for those of these suppliers; an ingredient that loses none keeps the very same ones."""
    if not suppliers:
        return prices
    return {code: _kept(offered, suppliers) for code, offered in prices.items()}


def _kept(offered: tuple[Price, ...], suppliers: frozenset[str]) -> tuple[Price, ...]:
    kept = tuple(price for price in offered if price.supplier not in suppliers)
    return offered if len(kept) == len(offered) else kept
