"""The purchase price variance against published worked examples; each sheet names its source."""

from fractions import Fraction

import pytest

from service.domain.publication import cost_in_words
from service.domain.purchase_price_variance import purchase_variance, total_of
from tests.worked.sheets import sheet

SHEETS = sheet("price_variance")


@pytest.mark.parametrize("worked", SHEETS, ids=[worked["source"].partition(",")[0][:20] for worked in SHEETS])
def test_a_purchase_is_so_much_dearer_or_cheaper_than_standard(worked: dict[str, str]) -> None:
    found = purchase_variance(
        Fraction(worked["quantity"]), Fraction(worked["standard_price_per_unit"]), Fraction(worked["paid"]))
    assert cost_in_words(found.variance) == worked["variance"]
    assert found.effect == worked["effect"]


def test_adverse_and_favourable_variances_are_set_off_in_the_total() -> None:
    each = [purchase_variance(Fraction(worked["quantity"]), Fraction(worked["standard_price_per_unit"]),
                              Fraction(worked["paid"])) for worked in SHEETS]
    assert total_of(each).variance == sum(Fraction(worked["variance"]) for worked in SHEETS)
