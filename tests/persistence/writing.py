"""Writing to a ledger in tests: records with the entries that say so, in few words."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import Any

from service.domain.breakdown import Breakdown
from service.domain.dish import Dish
from service.domain.history import Mark, Version
from service.domain.ingredient import Ingredient
from service.domain.kitchen_settings import KitchenSettings
from service.domain.price import Price, Withdrawal
from service.domain.recipe import Recipe
from service.domain.supplier import Supplier
from service.domain.supplier_item import SupplierItem, item_key
from service.domain.yield_test import YieldTest
from service.persistence.ledger import SqlLedger
from service.persistence.write_work import SqlWriteWork
from service.use_cases.canonical import canonical_json
from service.use_cases.ports import Asker, Entry

KINDS = {KitchenSettings: "settings", Supplier: "supplier", Ingredient: "ingredient", Breakdown: "breakdown",
         Recipe: "recipe", Dish: "dish", SupplierItem: "supplier_item"}
CHEF = Asker("key-1", "the chef", "request-1")


def kind_and_code(record: Any) -> tuple[str, str]:
    """What the ledger's entries call a record."""
    if isinstance(record, Price):
        return "price", record.ingredient
    if isinstance(record, YieldTest):
        return "yield_test", record.breakdown
    if isinstance(record, SupplierItem):
        return "supplier_item", item_key(record.supplier, record.code)
    return KINDS[type(record)], getattr(record, "code", "settings")


def record(ledger: SqlLedger, *records: Any, start: date | None = None, retired: bool = False,
           asker: Asker = CHEF) -> int:
    """Record all of them in one revision, and say which."""
    with ledger.write(asker) as work:
        for one in records:
            add(work, one, start, retired)
    return work.head.revision + 1


def add(work: SqlWriteWork, one: Any, start: date | None = None, retired: bool = False) -> Mark:
    """Add a record of any kind with its entry."""
    kind, code = kind_and_code(one)
    mark = work.next_mark(Entry("recorded", kind, code, {"said": canonical_json(one), "retired": retired}))
    if isinstance(one, Price):
        work.add_price(replace(one, made=mark))
    elif isinstance(one, YieldTest):
        work.add_yield_test(replace(one, made=mark))
    else:
        work.add_version(kind, code, Version(one, mark, start, retired))
    return mark


def take_back(work: SqlWriteWork, one: Any, reason: str = "a slip of the pen") -> Any:
    """Withdraw a price or set a test aside, with its entry; returns it as it stands then."""
    kind, code = kind_and_code(one)
    withdrawal = Withdrawal(work.next_mark(Entry("taken-back", kind, code, {"id": one.id, "reason": reason})), reason)
    if isinstance(one, Price):
        taken = replace(one, withdrawn=withdrawal)
        work.withdraw_price(taken)
        return taken
    aside = replace(one, set_aside=withdrawal)
    work.set_aside_yield_test(aside)
    return aside


def all_versions(histories: Iterable[Any]) -> list[Any]:
    """Every version of every history."""
    return [version for history in histories for version in history]
