"""How the yields of one breakdown are uncertain together: what is too much of one output is missing from another.

With n tests that weigh inputs x and outputs y_i, the ratios r_i = sum(y_i) / sum(x) and their residuals y_i - r_i x:

    cov_ij = sum((y_i - r_i x) (y_j - r_j x)) / (n (n - 1)) / (mean x)^2

Rules that always hold: exact; the variance of one output is the square of its published standard error; what is
unaccounted for is 1 less all yields, so that all of them and it do not vary in sum; yields that are declared, and those
of one test, have no covariance, which is not known and not nil.

Source:  the ratio estimator as in W. G. Cochran, Sampling Techniques, chapter 6 (6.3 for the variance, 6.19 for two
         ratios; without the correction for a finite population).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from service.domain.exact_sums import exact_sum
from service.domain.yield_test import YieldTest
from service.domain.yields import Yields, ratios_of_sums, weighed

UNACCOUNTED = "(unaccounted)"
"""Stands for what is unaccounted for, beside the outputs; no code has brackets."""

NIL = Fraction(0)
FEWEST_TESTS = 2


@dataclass(frozen=True, slots=True)
class YieldCovariance:
    """Of the yields of one breakdown, over the tests that count.

    Shape:   `residuals` by output, and of what is unaccounted for, one a test in kg; `scale` is 1 / (n (n - 1)
             (mean x)^2), per kg squared.
    """

    tests: int
    residuals: Mapping[str, tuple[Fraction, ...]]
    scale: Fraction

    def between(self, one: str, other: str) -> Fraction:
        """The covariance of two yields; of one with itself, its variance."""
        return self.scale * exact_sum(
            left * right for left, right in zip(self.residuals[one], self.residuals[other], strict=True))

    def variance_of_sum(self, weights: Mapping[str, Fraction]) -> Fraction:
        """The variance of sum(weight x yield): the quadratic form of the weights, never below nil.

        Exact:   equal to the sum of weight x weight x covariance over all pairs, in one pass over the tests.
        """
        parts = [(weight, self.residuals[cut]) for cut, weight in weights.items() if weight]
        return self.scale * exact_sum(
            exact_sum(weight * residuals[test] for weight, residuals in parts) ** 2 for test in range(self.tests))


def covariance_of(yields: Yields) -> YieldCovariance | None:
    """The covariance of the yields in force; None where they are declared, or of one test."""
    return covariance_of_tests(yields.counting, tuple(yields.fractions)) if yields.basis == "tests" else None


def covariance_of_tests(tests: Sequence[YieldTest], cuts: Iterable[str]) -> YieldCovariance | None:
    """The covariance of the ratios of `cuts` over the tests; None below two tests."""
    count = len(tests)
    if count < FEWEST_TESTS:
        return None
    tested, ratios = [weighed(test) for test in tests], ratios_of_sums(tests, cuts)
    residuals = {cut: tuple(test.outputs[cut] - ratio * test.paid_for for test in tested)
                 for cut, ratio in ratios.items()}
    residuals[UNACCOUNTED] = tuple(-exact_sum(of_one_test) for of_one_test in zip(*residuals.values(), strict=True))
    paid_for = exact_sum(test.paid_for for test in tested)
    return YieldCovariance(count, residuals, Fraction(count) / ((count - 1) * paid_for**2))
