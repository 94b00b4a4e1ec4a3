"""A ledger with an invented menu of any size, for what is measured over HTTP: migrated, filled, and two keys to it.

The records are those of the benchmark of movements: as many goods as dishes, a tenth of them broken down, recipes that
nest two deep, dishes of eight lines. Keys may ask a million times a minute: they are counted, and never refused.
"""

import gc
import time
import tracemalloc
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from service import operating
from service.domain.breakdown import BreakdownInput
from service.domain.history import Mark
from service.domain.supplier import Supplier
from service.persistence.column_types import from_millionths, to_day
from service.persistence.ledger import SqlLedger
from service.settings import Settings
from service.use_cases.keys import MOST_PER_MINUTE, create_key
from service.use_cases.ports import Asker
from tests.benchmarks.price_movements import Draft
from tests.builders import a_breakdown, a_by_product, a_loss, a_main, an_ingredient, some_settings, some_trim
from tests.persistence.writing import record

START = date(2026, 1, 1)
ASKER = Asker("cli", "benchmark", "benchmark")


@dataclass(frozen=True)
class Filled:
    """A ledger that is filled: a key that opens everything, one for tills, and one of its dishes and goods each."""

    admin: str
    till: str
    dish: str
    good: str


def filled(database_url: str, dishes: int) -> Filled:
    """Bring a database up to date and, where it is empty, fill it with a menu of so many dishes."""
    settings = Settings(database_url=database_url)
    operating.migrate(settings)
    began = time.perf_counter()
    with operating.opened_ledger(settings) as ledger:
        draft = Draft(dishes)
        if ledger.head().revision == 0:
            _record_menu(ledger, draft, dishes)
            print(f"{dishes} dishes loaded in {time.perf_counter() - began:.0f} s")
        admin, till = (create_key(ledger, scope, [scope], None, ASKER, MOST_PER_MINUTE).document["key"]
                       for scope in ("admin", "costs:read"))
    return Filled(admin, till, "dish-0", draft.goods[0])


def bytes_of_kitchen(database_url: str) -> int:
    """What a worker holds of a ledger: the bytes of its kitchen as known now, and of the values that its records share.

    Read twice: what the first reading leaves behind in this process (statements, plans) is no part of a kitchen.
    """
    with operating.opened_ledger(Settings(database_url=database_url)) as ledger:
        ledger.kitchen(ledger.head().revision)
    from_millionths.cache_clear()
    to_day.cache_clear()
    with operating.opened_ledger(Settings(database_url=database_url)) as ledger:
        head = ledger.head().revision
        gc.collect()
        tracemalloc.start()
        try:
            ledger.kitchen(head)  # which the ledger keeps
            gc.collect()
            return tracemalloc.get_traced_memory()[0]
        finally:
            tracemalloc.stop()


def _record_menu(ledger: SqlLedger, draft: Draft, dishes: int) -> None:
    goods, cuts = (("ingredient", draft.goods),) * 4, (("cut", draft.cuts),)
    record(ledger, some_settings(), Supplier("fenmoor", "Fenmoor Yard"))
    record(ledger, *(an_ingredient(code, preferred_supplier="fenmoor") for code in draft.goods))
    record(ledger, *(draft.price(code, START, Mark(0, 0)) for code in draft.goods))
    record(ledger, *(a_breakdown(
        a_main(f"cut-{n}-main", "0.55"), some_trim(f"cut-{n}-trim", "0.25"), a_by_product(f"fat-{n}", "0.1", "0.2"),
        a_loss(f"skin-{n}", "0.05"), code=f"seamed-{n}", input=BreakdownInput(ingredient=f"good-{n}"))
        for n in range(dishes // 10)))
    record(ledger, *(draft.recipe(code, goods + cuts) for code in draft.plain))
    record(ledger, *(draft.recipe(code, (*goods, ("recipe", draft.plain))) for code in draft.rich))
    record(ledger, *(replace(draft.dish(f"dish-{n}"), menu_price=Decimal(draft.chance.randint(12, 90)) / 2)
                     for n in range(dishes)))
