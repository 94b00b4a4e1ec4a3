"""Menu engineering: which dishes are popular, and which contribute, from what was sold in a period.

    covers          = portions sold; what was given away was not chosen from the menu
    contribution    = price before tax on the menu - food cost, of a portion on its day; weighted by the covers of each
    mean            = sum (covers x contribution) / sum covers: the weighted mean
    popularity line = 70 % of an even share: 0.7 / number of dishes x sum covers
    class           = popular and contributing: star; popular alone: plowhorse; contributing alone: puzzle; else dog

On a line exactly, a dish counts as above it: at least 70 % of an even share is popular, at least the mean contributes.
Both are comparisons of exact figures, since the lines come out of the same figures: a menu of one dish contributes just
its mean. Rules that always hold:

- a dish counts in the number of dishes when it was sold, or was on the menu with a price and a POS code on a day that
  has sales, and nobody bought it: then its covers are nil, and its contribution is that of the last such day;
- one without a POS code cannot be seen in sales, and one without a price is not chosen for it: neither counts unsold;
- a dish whose contribution is not known has covers and a popularity, and no class; the mean is that of the others;
- what was sold under a code that does not tell the dish is told apart.

Source:  M. L. Kasavana and D. I. Smith, Menu Engineering, 1982: the two lines and the four classes.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from service.domain.cascade import NO_GAPS, in_order
from service.domain.exact_sums import exact_sum
from service.domain.findings import Gap
from service.domain.sales_tally import percent_of

NIL = Fraction(0)
POPULAR = Fraction(7, 10)


class MenuClass(StrEnum):
    """Where a dish stands, in the words of the method."""

    STAR = "star"
    PLOWHORSE = "plowhorse"
    PUZZLE = "puzzle"
    DOG = "dog"


@dataclass(frozen=True, slots=True)
class DishSales:
    """What was sold of a dish, over all days.

    Units:   covers in portions; `price` and `food_cost` in money for all of them, before tax; of a dish that was not
             sold, for one portion. None is not known.
    """

    code: str
    covers: Fraction
    price: Fraction | None
    food_cost: Fraction | None
    gaps: frozenset[Gap] = NO_GAPS

    @property
    def contribution(self) -> Fraction | None:
        """Of a portion."""
        if self.price is None or self.food_cost is None:
            return None
        return (self.price - self.food_cost) / (self.covers or 1)

    @property
    def total_contribution(self) -> Fraction | None:
        return None if self.contribution is None else self.contribution * self.covers


@dataclass(frozen=True, slots=True)
class DishInMatrix:
    """A dish and where it stands. None is not known."""

    sales: DishSales
    share_percent: Fraction | None
    popular: bool | None
    contributing: bool | None

    @property
    def menu_class(self) -> MenuClass | None:
        if self.popular is None or self.contributing is None:
            return None
        return _CLASSES[self.popular, self.contributing]


@dataclass(frozen=True, slots=True)
class Matrix:
    """The dishes and the two lines. The lines are None where nothing was sold.

    Units:   `popularity_line` in covers, `mean_contribution` in money per cover; `price` and `food_cost` are those of
             the dishes whose contribution is known, for all their covers.
    Example: 629 covers of eight dishes: the line is at 55.0375 covers, and 55 fall short.
    """

    dishes: tuple[DishInMatrix, ...]
    covers: Fraction
    popularity_line: Fraction | None
    mean_contribution: Fraction | None
    contribution: Fraction
    price: Fraction
    food_cost: Fraction

    @property
    def popularity_line_percent(self) -> Fraction | None:
        return POPULAR * 100 / len(self.dishes) if self.dishes else None

    @property
    def food_cost_percent(self) -> Fraction | None:
        return percent_of(self.food_cost, self.price)

    @property
    def gaps(self) -> tuple[Gap, ...]:
        return in_order(NO_GAPS.union(*(dish.sales.gaps for dish in self.dishes)))


_CLASSES: Mapping[tuple[bool, bool], MenuClass] = {
    (True, True): MenuClass.STAR, (True, False): MenuClass.PLOWHORSE,
    (False, True): MenuClass.PUZZLE, (False, False): MenuClass.DOG}


def menu_matrix(dishes: Sequence[DishSales]) -> Matrix:
    """The matrix of some dishes, each counted once; covers that are not above nil are none."""
    covers = exact_sum(dish.covers for dish in dishes)
    known = [dish for dish in dishes if dish.contribution is not None]
    sold = [dish for dish in known if dish.covers]
    contribution = exact_sum(dish.total_contribution or NIL for dish in sold)
    weight = exact_sum(dish.covers for dish in sold)
    line = POPULAR / len(dishes) * covers if covers else None
    mean = contribution / weight if weight else None
    placed = tuple(
        DishInMatrix(dish, percent_of(dish.covers, covers), None if line is None else dish.covers >= line,
                     None if mean is None or dish.contribution is None else dish.contribution >= mean)
        for dish in dishes)
    return Matrix(placed, covers, line, mean, contribution, exact_sum(dish.price or NIL for dish in sold),
                  exact_sum(dish.food_cost or NIL for dish in sold))
