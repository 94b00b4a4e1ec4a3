"""Labour: minutes at the rate; without one, minutes are unknown and no minutes are free."""

from decimal import Decimal
from fractions import Fraction

from service.domain.labour import labour_cost
from tests.builders import some_settings


def test_three_minutes_at_twenty_four_an_hour() -> None:
    assert labour_cost(Decimal(3), some_settings()) == Fraction("1.20")


def test_no_rate_is_unknown_and_a_rate_of_zero_is_a_rate() -> None:
    assert labour_cost(Decimal(3), some_settings(labour_rate_per_hour=None)) is None
    assert labour_cost(Decimal(3), some_settings(labour_rate_per_hour="0")) == 0


def test_no_minutes_cost_nothing_whatever_the_rate() -> None:
    assert labour_cost(Decimal(0), some_settings(labour_rate_per_hour=None)) == 0
