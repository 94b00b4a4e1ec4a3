"""A straight line through points by least squares, and how sure its slope is.

    slope           b = sum((x - mean x)(y - mean y)) / sum((x - mean x)^2)
    standard error  of b = sqrt(sum((y - a - b x)^2) / (n - 2) / sum((x - mean x)^2))
    95 % interval   b +/- t x standard error, Student's t with n - 2 degrees of freedom

Rules that always hold: the line is exact; the root is correctly rounded to 50 digits, once.

Source:  NIST/SEMATECH e-Handbook of Statistical Methods, 4.4.3; the reference data sets for linear
         regression of NIST StRD are held in the tests.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from service.domain.rounding import square_root
from service.domain.student_t import t_of_95_percent

NIL = Fraction(0)
FEWEST = 3
"""Two points always have a line through them, which says nothing of how sure it is."""


@dataclass(frozen=True, slots=True)
class Line:
    """The line y = intercept + slope x.

    Units:   the slope is in units of y for one unit of x.
    """

    intercept: Fraction
    slope: Fraction
    standard_error: Fraction
    interval: tuple[Fraction, Fraction]

    @property
    def slopes(self) -> bool:
        """Whether the slope's interval leaves out zero: it is more than the points' own scatter."""
        low, high = self.interval
        return low > 0 or high < 0


def line_through(points: Sequence[tuple[Fraction, Fraction]]) -> Line | None:
    """The line through points (x, y); None for fewer than three, or where all have the same x."""
    count = len(points)
    if count < FEWEST:
        return None
    mean_x, mean_y = (sum((point[axis] for point in points), NIL) / count for axis in (0, 1))
    spread = sum(((x - mean_x) ** 2 for x, _ in points), NIL)
    if spread == 0:
        return None
    slope = sum(((x - mean_x) * (y - mean_y) for x, y in points), NIL) / spread
    intercept = mean_y - slope * mean_x
    squares = sum(((y - intercept - slope * x) ** 2 for x, y in points), NIL)
    error = Fraction(square_root(squares / (count - 2) / spread))
    reach = Fraction(t_of_95_percent(count - 2)) * error
    return Line(intercept, slope, error, (slope - reach, slope + reach))
