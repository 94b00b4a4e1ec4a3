"""A ledger keeps one currency, also while the settings that name it start on a later day.

The clock stands on 2 March 2026; the settings start on 1 April.
"""

from datetime import date
from decimal import Decimal

import pytest

from service.domain.errors import CurrencyDiffers, Refused
from service.domain.kitchen_settings import KitchenSettings
from service.domain.supplier import Supplier
from service.persistence.ledger import SqlLedger
from service.use_cases.conditions import Condition
from service.use_cases.keep_record import keep_record
from service.use_cases.kept_kinds import dish_kind, ingredient_kind, settings_kind, supplier_kind
from service.use_cases.kinds import SETTINGS
from service.use_cases.ports import Asker
from service.use_cases.record_price import PriceAsked, record_price
from tests.builders import a_dish, a_primal, some_settings

CHEF = Asker("cli", "chef", "request")
MARCH, APRIL = date(2026, 3, 2), date(2026, 4, 1)


@pytest.fixture
def pounds_from_april(ledger: SqlLedger) -> SqlLedger:
    """A kitchen whose first settings, in pounds, start in April."""
    keep_record(ledger, supplier_kind, "fenmoor", Supplier("fenmoor", "Fenmoor Yard"), None, Condition(), CHEF)
    keep_record(ledger, ingredient_kind, "beef-topside", a_primal(), None, Condition(), CHEF)
    keep_record(ledger, settings_kind, SETTINGS, some_settings(currency="GBP"), APRIL, Condition(), CHEF)
    return ledger


def price_in(currency: str, ledger: SqlLedger) -> None:
    record_price(ledger, "beef-topside", PriceAsked(
        "fenmoor", Decimal("14.20"), Decimal(1), "kg", currency=currency), CHEF)


def test_the_currency_holds_on_every_day_and_the_rates_from_april(pounds_from_april: SqlLedger) -> None:
    recorded = pounds_from_april.kitchen(pounds_from_april.head().revision)
    assert [recorded.on(day).settings.currency for day in (MARCH, APRIL)] == ["GBP", "GBP"]
    assert [recorded.on(day).settings.default_tax_rate_percent for day in (MARCH, APRIL)] == [Decimal(0), Decimal(20)]


def test_a_price_recorded_before_the_settings_start_is_in_their_currency(pounds_from_april: SqlLedger) -> None:
    with pytest.raises(Refused) as refusal:
        price_in("EUR", pounds_from_april)
    assert [type(fault) for fault in refusal.value.faults] == [CurrencyDiffers]
    price_in("GBP", pounds_from_april)
    assert len(pounds_from_april.kitchen(pounds_from_april.head().revision).prices["beef-topside"]) == 1


def test_settings_that_start_earlier_do_not_change_the_currency_of_prices(pounds_from_april: SqlLedger) -> None:
    price_in("GBP", pounds_from_april)
    with pytest.raises(Refused) as refusal:
        keep_record(pounds_from_april, settings_kind, SETTINGS, KitchenSettings(currency="EUR"), None,
                    Condition(any_tag=True), CHEF)
    assert [fault.pointer for fault in refusal.value.faults] == ["#/currency"]


def test_a_currency_that_menu_prices_are_too_fine_for_is_refused(ledger: SqlLedger) -> None:
    """ISO 4217: the pound has two decimals, the yen none, so that 22.50 could not be published as it stands."""
    for code, menu_price in (("cap", "22.50"), ("cheek", "18.00")):
        keep_record(ledger, dish_kind, code, a_dish(code, menu_price=menu_price), None, Condition(), CHEF)
    with pytest.raises(Refused) as refusal:
        keep_record(ledger, settings_kind, SETTINGS, some_settings(currency="JPY"), None, Condition(), CHEF)
    [fault] = refusal.value.faults
    assert (fault.pointer, fault.more["dishes"]) == ("#/currency", ["cap"])
    keep_record(ledger, settings_kind, SETTINGS, some_settings(currency="GBP"), None, Condition(), CHEF)
