"""Purchase price variance: adverse is positive, what is not known is not nil. Judge: price by price, in fractions."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from service.domain.purchase_price_variance import Effect, PurchaseVariance, purchase_variance, total_of
from tests.strategies import amounts

QUANTITIES = st.integers(1, 10**9).map(lambda thousandths: Fraction(thousandths, 1000))


@given(QUANTITIES, amounts(), amounts())
def test_a_variance_is_the_difference_of_prices_times_the_quantity(
    quantity: Fraction, standard: Fraction, actual: Fraction
) -> None:
    found = purchase_variance(quantity, standard, actual * quantity)
    assert found.variance == (actual - standard) * quantity
    assert found.effect is (Effect.ADVERSE if actual > standard else Effect.FAVOURABLE if actual < standard
                            else Effect.NONE)
    assert found.variance_percent == ((actual / standard - 1) * 100 if standard else None)


@given(st.lists(st.tuples(QUANTITIES, amounts(), amounts()), max_size=6))
def test_a_total_is_the_sum_of_its_purchases(bought: list[tuple[Fraction, Fraction, Fraction]]) -> None:
    each = [purchase_variance(*purchase) for purchase in bought]
    assert total_of(each).variance == sum((one.actual_cost - one.standard_cost for one in each), Fraction(0))


def test_without_a_standard_or_a_price_there_is_no_variance_and_no_total() -> None:
    known = purchase_variance(Fraction(2), Fraction(3), Fraction(7))
    for standard, paid in ((None, Fraction(7)), (Fraction(3), None)):
        lacking = purchase_variance(Fraction(2), standard, paid)
        assert (lacking.variance, lacking.variance_percent, lacking.effect) == (None, None, None)
        assert total_of([known, lacking]).variance is None
    assert total_of([known, purchase_variance(Fraction(2), None, Fraction(7))]) == PurchaseVariance(None, Fraction(14))


def test_something_bought_at_a_standard_of_nil_has_a_variance_and_no_percentage() -> None:
    found = purchase_variance(Fraction(5), Fraction(0), Fraction(3))
    assert (found.variance, found.variance_percent, found.effect) == (3, None, Effect.ADVERSE)
