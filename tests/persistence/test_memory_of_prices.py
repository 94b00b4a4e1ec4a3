"""What a worker holds of prices: each that was ever recorded, so what thousands repeat is one object."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service import operating
from service.domain.history import Mark
from service.domain.supplier import Supplier
from service.persistence import kitchen_reading
from service.settings import Settings
from tests.benchmarks.kitchens import bytes_of_kitchen
from tests.builders import a_price, an_ingredient
from tests.persistence.writing import record

PRICES, MOST_BYTES = 4_000, 270
"""217 were measured, of them 48 bytes of a tuple and of a list's spare places; 354 with texts and days of its own for
each price."""


@pytest.fixture
def with_prices(database_url):
    """A ledger with prices of one delivery a revision, and the bytes of its kitchen without and with them."""
    settings = Settings(database_url=database_url)
    operating.migrate(settings)
    with operating.opened_ledger(settings) as ledger:
        record(ledger, Supplier("fenmoor", "Fenmoor Yard"), an_ingredient("topside"))
        one = a_price(ingredient="topside", made=Mark(0, 0))
        without = bytes_of_kitchen(database_url)
        for delivery in range(4):
            record(ledger, *(replace(one, amount=Decimal(number % 50 + 1), reference=f"delivery note {delivery}")
                             for number in range(PRICES // 4)))
    return database_url, without, bytes_of_kitchen(database_url)


def test_a_price_takes_no_more_than_its_own_facts(with_prices):
    _, without, held = with_prices
    assert 100 < (held - without) / PRICES < MOST_BYTES


def test_what_prices_repeat_is_one_object_also_where_they_were_read_one_after_the_other(with_prices):
    """Of a delivery all the same texts and days; of another delivery the same unit and day."""
    url, _, _ = with_prices
    with operating.opened_ledger(Settings(database_url=url)) as ledger:
        first = ledger.kitchen(3).prices["topside"]
        assert len(first) < PRICES
        every = ledger.kitchen(ledger.head().revision).prices["topside"]
    assert len(every) == PRICES
    assert [len({id(getattr(price, name)) for price in every}) for name in (
        "ingredient", "supplier", "pack_quantity", "pack_unit", "effective_from", "reference")] == [1, 1, 1, 1, 1, 4]


def test_more_prices_than_are_fetched_at_once_come_whole_and_in_order(with_prices, monkeypatch):
    url, _, _ = with_prices
    monkeypatch.setattr(kitchen_reading, "ROWS_AT_ONCE", 7)
    with operating.opened_ledger(Settings(database_url=url)) as ledger:
        in_sevens = ledger.kitchen(ledger.head().revision).prices["topside"]
    marks = [price.made for price in in_sevens]
    assert len(marks) == PRICES
    assert marks == sorted(marks)
