"""Break or buy: the whole primal against buying, ready-trimmed, the kilograms of its cuts that are really used.

    buying          market_value x kg used, over main and trim
    breaking        what the input costs + packaging + disposal + finishing - credits, + labour
    saved           buying - breaking; below zero, buying is cheaper
    stops paying at the price per kg of input at which nothing is saved: (value - charges) / kg

With labour and without it: minutes that are paid anyway cost nothing more, finishing is a charge either way. What is
not used counts nothing, and how much is lost by it is told. An input that is a cut costs what the chain to it costs.
Cut by cut the comparison would be circular: a cut's own cost comes of sharing the joint cost by those very values.

Whether to finish a cut further ignores the joint cost, which is spent either way:

    gain of finishing = market_value - finishing_cost - split_off_value, per kg

Source:  sell or process further, as in cost accounting: joint costs are sunk. OpenStax, Principles of Accounting,
         Volume 2, 10.5: 6.50 - 2.80 - 3.00 is 0.70 a lb, whatever the beef was bought for.
"""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from service.domain.breakdown import Output
from service.domain.breakdown_pools import InputCost
from service.domain.breakdown_value import BreakdownValue, no_market_value
from service.domain.findings import Gap
from service.domain.rounding import UNIT_COST_PLACES, published


class Cheaper(StrEnum):
    """What comes cheaper, as published."""

    BREAKING = "breaking"
    BUYING = "buying"
    SAME = "same"


@dataclass(frozen=True, slots=True)
class Verdict:
    """Breaking against buying, with labour or without it. Money in all, exactly; None is not known.

    Units:   `stops_paying_at` is money per kg of input; below zero, it would not pay as a gift.
    """

    breaking: Fraction | None
    saved: Fraction | None
    stops_paying_at: Fraction | None

    @property
    def cheaper(self) -> Cheaper | None:
        if self.saved is None:
            return None
        saved = published(self.saved, UNIT_COST_PLACES)
        return Cheaper.SAME if not saved else Cheaper.BREAKING if saved > 0 else Cheaper.BUYING


@dataclass(frozen=True, slots=True)
class BreakOrBuy:
    """So much input, broken down or bought as cuts."""

    value: BreakdownValue
    input_cost: InputCost

    @property
    def with_labour(self) -> Verdict:
        """Against what the input costs in all: of a cut, its labour too."""
        return self._verdict(self.value.after_labour, self.input_cost.cost)

    @property
    def without_labour(self) -> Verdict:
        """Against what the input costs in material."""
        return self._verdict(self.value.before_labour, self.input_cost.material)

    def _verdict(self, value: Fraction | None, cost_per_kg: Fraction | None) -> Verdict:
        buying = self.value.cuts
        if value is None or buying is None:
            return Verdict(None, None, None)
        limit = value / self.value.input_kg
        if cost_per_kg is None:
            return Verdict(None, None, limit)
        saved = value - cost_per_kg * self.value.input_kg
        return Verdict(buying - saved, saved, limit)


@dataclass(frozen=True, slots=True)
class Finishing:
    """Whether to finish one output further, or leave it as it comes from the knife. The price paid is sunk.

    Units:   `gain_per_kg` is money per kg of the output, `quantity_kg` how much of it is used.
    """

    output: Output
    quantity_kg: Fraction
    gain_per_kg: Fraction | None
    gaps: tuple[Gap, ...]

    @property
    def gain(self) -> Fraction | None:
        return None if self.gain_per_kg is None else self.gain_per_kg * self.quantity_kg

    @property
    def worth_finishing(self) -> bool | None:
        """As published; None where it cannot be said, and at a gain of nothing it is not."""
        return None if self.gain_per_kg is None else published(self.gain_per_kg, UNIT_COST_PLACES) > 0


def finishing_of(value: BreakdownValue) -> tuple[Finishing, ...]:
    """Every main or trim output that is finished further."""
    return tuple(_finishing(used.output, used.used) for used in value.outputs
                 if used.output.role.carries_joint_cost and used.output.finishing_cost)


def _finishing(output: Output, quantity: Fraction) -> Finishing:
    finished, raw = output.market_value, output.split_off_value
    if finished is None or raw is None:
        missing = [] if finished is not None else [no_market_value(output)]
        missing += [] if raw is not None else [_no_split_off_value(output)]
        return Finishing(output, quantity, None, tuple(missing))
    return Finishing(output, quantity, Fraction(finished) - Fraction(output.finishing_cost) - Fraction(raw), ())


def _no_split_off_value(output: Output) -> Gap:
    """Left out, it is the finished value less finishing, and finishing would gain nothing by definition."""
    return Gap("missing_value", "cut", output.cut,
               f"{output.cut} has no split_off_value, at which it could be used or sold unfinished: give it.")
