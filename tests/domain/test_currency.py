"""Minor units as in ISO 4217. The expectations here are from memory of the standard."""

from fractions import Fraction

import pytest

from service.domain.currency import MINOR_UNITS, minor_unit, smallest_step
from service.domain.errors import WrongValue


@pytest.mark.parametrize(("currency", "places"), [
    ("EUR", 2), ("GBP", 2), ("USD", 2), ("CHF", 2), ("CZK", 2), ("JPY", 0), ("KRW", 0), ("ISK", 0), ("VND", 0),
    ("CLP", 0), ("XOF", 0), ("HUF", 2), ("IDR", 2), ("KWD", 3), ("BHD", 3), ("OMR", 3), ("TND", 3), ("JOD", 3),
    ("CLF", 4), ("UYW", 4),
])
def test_a_menu_price_has_as_many_decimals_as_its_currency(currency: str, places: int) -> None:
    assert minor_unit(currency) == places
    assert smallest_step(currency) == Fraction(1, 10**places)


@pytest.mark.parametrize("currency", ["", "eur", "EURO", "ABC", "XAU", "XXX", "XTS", "DEM"])
def test_a_code_that_is_no_currency_in_use_is_refused(currency: str) -> None:
    with pytest.raises(WrongValue, match="ISO 4217"):
        minor_unit(currency)


def test_the_list_is_as_long_as_the_currencies_of_the_world() -> None:
    """ISO 4217, list one of 2026-01-01: counted by minor unit in a published copy of the list."""
    by_places = [sum(places == wanted for places in MINOR_UNITS.values()) for wanted in (0, 2, 3, 4)]
    assert by_places == [17, 139, 7, 2]
    assert all(code.isalpha() and code.isupper() and len(code) == 3 for code in MINOR_UNITS)
