"""How far the food cost of a dish could be off because its yields are known from a few tests only.

First-order propagation: the food cost moves by (weight of the breakdown's pool in the dish) x (sum over its outputs of
slope x change of the yield), so that one breakdown adds

    (weight in the dish)^2 x (variance of sum(slope x yield), with the covariance of the yields within a test)

and different breakdowns, whose tests are independent of each other, add up. A breakdown's variance per kg of its input
is worked out once, and the weights of all breakdowns in all dishes in one forward pass over the network. A chain needs
no care of its own: a kg of a cut that is broken down again carries the pool of the first breakdown into the second.

Rules that always hold: exact, roots correctly rounded once from 50 digits; where a yield that the dish rests on is
declared, or of one test, its uncertainty is not known, and known only for the rest ("at least so much"); a dish that
rests on no yield is off by nothing on their account. Prices, recipes and portions are taken as they stand.

Source:  JCGM 100 (GUM), 5.1.2 and 5.2.2 for the propagation, G.4 for the 95 % interval, its degrees of freedom by
         Welch and Satterthwaite; NIST/SEMATECH, e-Handbook of Statistical Methods, 2.5.5.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from service.domain.breakdown import Breakdown
from service.domain.cascade import Costing
from service.domain.kitchen import KitchenOnDay
from service.domain.more_tests import Part, degrees_of_freedom, half_width_squared, more_tests, variance_of
from service.domain.network import NIL, ONE, Network
from service.domain.rounding import square_root
from service.domain.student_t import t_of_95_percent
from service.domain.yield_covariance import covariance_of
from service.domain.yield_slopes import slopes_of
from service.domain.yields import yields_of

Weights = Mapping[str, Fraction]


@dataclass(frozen=True, slots=True)
class BreakdownDoubt:
    """How uncertain the cost is that one breakdown hands on, by its yields alone.

    Units:   `variance` is in money squared per kg of input; None: not known. `standard_error` is its root.
    """

    breakdown: Breakdown
    basis: str
    tests: int
    variance: Fraction | None
    standard_error: Fraction | None


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one breakdown adds to the uncertainty of a dish's food cost.

    Units:   `weight` is money per portion, for one unit of money more per kg of the breakdown's input.
    """

    doubt: BreakdownDoubt
    weight: Fraction

    @property
    def part(self) -> Part | None:
        """Its variance, in money squared; None: not known."""
        variance = self.doubt.variance
        return None if variance is None else Part(self.weight**2 * variance, self.doubt.tests)

    @property
    def standard_error(self) -> Fraction | None:
        error = self.doubt.standard_error
        return None if error is None else self.weight * error


@dataclass(frozen=True, slots=True)
class TestsNeeded:
    """How many more tests of the breakdown that adds most would do; None with the reason why none can be said.

    `why` is one of yields_not_known, food_cost_not_known, food_cost_is_zero, others_too_uncertain, too_many_tests.
    """

    more: int | None
    why: str | None = None


@dataclass(frozen=True)
class FoodCostUncertainty:
    """How sure the food cost of one dish is. All that rests on what is not known is None.

    Units:   money per portion.
    Shape:   `contributions` in the order of the breakdowns' codes; `parts` are those that are known.
    """

    dish: str
    food_cost: Fraction | None
    contributions: tuple[Contribution, ...]

    @cached_property
    def status(self) -> str:
        """incomplete: the food cost is not known; not_known: its uncertainty is not."""
        if self.food_cost is None:
            return "incomplete"
        return "not_known" if any(part is None for part in self.parts) else "complete"

    @cached_property
    def parts(self) -> tuple[Part | None, ...]:
        return tuple(each.part for each in self.contributions)

    @cached_property
    def known_standard_error(self) -> Fraction:
        """At least so much: what is not known counts as nil."""
        return Fraction(square_root(variance_of(self._known)))

    @property
    def standard_error(self) -> Fraction | None:
        return self.known_standard_error if self.status == "complete" else None

    @cached_property
    def degrees_of_freedom(self) -> int | None:
        """Effective, whole; None also where nothing varies."""
        return degrees_of_freedom(self._known) if self.status == "complete" else None

    @property
    def half_width(self) -> Fraction | None:
        """Half of the 95 % interval: Student's t x the standard error."""
        degrees = self.degrees_of_freedom
        if self.standard_error is None or degrees is None:
            return self.standard_error
        return Fraction(t_of_95_percent(degrees)) * self.standard_error

    @property
    def interval(self) -> tuple[Fraction, Fraction] | None:
        reach = self.half_width
        return None if self.food_cost is None or reach is None else (self.food_cost - reach, self.food_cost + reach)

    @cached_property
    def main(self) -> Contribution | None:
        """The contribution that is greatest, the first of equals; None where that cannot be said or nothing varies."""
        if not self.standard_error:
            return None
        variances = [part.variance for part in self._known]
        return self.contributions[variances.index(max(variances))]

    def tests_needed(self, within: Fraction) -> TestsNeeded:
        """How many more tests bring half the interval to at most `within` x food cost, if `main` alone has them."""
        if self.food_cost is None or self.status != "complete":
            return TestsNeeded(None, "food_cost_not_known" if self.food_cost is None else "yields_not_known")
        if self.main is None:
            return TestsNeeded(0)
        if not self.food_cost:
            return TestsNeeded(None, "food_cost_is_zero")
        return _needed(self.main.part, [
            part for each, part in zip(self.contributions, self.parts, strict=True)
            if each is not self.main and part is not None], within * self.food_cost)

    @property
    def _known(self) -> list[Part]:
        return [part for part in self.parts if part is not None]


class UncertaintySheet:
    """How sure the food costs of one kitchen are; works out the weights, and each breakdown's doubt, once."""

    def __init__(self, kitchen: KitchenOnDay, costing: Costing) -> None:
        self._kitchen = kitchen
        self._costing = costing
        self._weights = breakdown_weights(costing.network)
        self._doubts: dict[str, BreakdownDoubt] = {}

    def resting_on(self, breakdown: str | None) -> tuple[str, ...]:
        """The dishes that rest on the yields of a breakdown, or all dishes, in the order of the codes."""
        return tuple(dish for dish, weights in sorted(self._weights.items())
                     if breakdown is None or breakdown in weights)

    def of(self, dish: str) -> FoodCostUncertainty:
        """How sure the food cost of a dish is.

        Raises:  KeyError for a dish that is not in the network.
        """
        return FoodCostUncertainty(dish, self._costing.material(("dish", dish)), tuple(
            Contribution(self._doubt(code), weight) for code, weight in sorted(self._weights[dish].items())))

    def _doubt(self, code: str) -> BreakdownDoubt:
        if code not in self._doubts:
            self._doubts[code] = doubt_of(self._kitchen.breakdowns[code], self._kitchen, self._costing)
        return self._doubts[code]


def doubt_of(breakdown: Breakdown, kitchen: KitchenOnDay, costing: Costing) -> BreakdownDoubt:
    """How uncertain a breakdown in use leaves the cost that it hands on, per kg of its input."""
    yields = yields_of(breakdown, kitchen.yield_tests.get(breakdown.code, ()), kitchen.day)
    covariance, pool = covariance_of(yields), costing.material(("breakdown", breakdown.code))
    slopes = None if pool is None else slopes_of(breakdown, yields, pool)
    variance = None if covariance is None or slopes is None else covariance.variance_of_sum(slopes)
    error = None if variance is None else Fraction(square_root(variance))
    return BreakdownDoubt(breakdown, yields.basis, len(yields.counting), variance, error)


def breakdown_weights(network: Network) -> dict[str, Weights]:
    """What a unit of each breakdown's pool, per kg of its input, weighs in a portion of every dish: one forward pass.

    Shape:   by dish, then by the code of the breakdown; what does not count in a dish is not among its.
    """
    below: list[Weights] = []
    found: dict[str, Weights] = {}
    for node in network.nodes:
        weights = {node.code: ONE} if node.kind == "breakdown" else {}
        for edge in node.edges:
            if edge.factor:
                for code, weight in below[edge.child].items():
                    weights[code] = weights.get(code, NIL) + edge.factor * weight
        if node.material_scale != ONE:
            weights = {code: weight * node.material_scale for code, weight in weights.items()}
        below.append(weights)
        if node.kind == "dish":
            found[node.code] = weights
    return found


def _needed(main: Part | None, others: Sequence[Part], reach: Fraction) -> TestsNeeded:
    more = None if main is None else more_tests(main, others, reach)
    if more is not None:
        return TestsNeeded(more)
    alone = bool(others) and half_width_squared(others) >= reach**2
    return TestsNeeded(None, "others_too_uncertain" if alone else "too_many_tests")
