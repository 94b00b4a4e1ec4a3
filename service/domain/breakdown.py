"""A breakdown: the plan by which one input becomes several outputs.

Per kg of input, output i weighs its yield y_i. Main and trim carry the joint cost, by-products are credited,
losses may cost money to dispose of. What is left of 1 is unaccounted (purge, drip, the scale).
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import ClassVar

from service.domain.quantity import Conversion

ZERO = Decimal(0)


class Role(StrEnum):
    """What an output is: a muscle or fillet, usable lesser pieces, something used at a credit value, or nothing."""

    MAIN = "main"
    TRIM = "trim"
    BY_PRODUCT = "by_product"
    LOSS = "loss"

    @property
    def carries_joint_cost(self) -> bool:
        return self in (Role.MAIN, Role.TRIM)

    @property
    def is_cut(self) -> bool:
        """A cut may be used by a recipe, a dish or a further breakdown; a loss may not."""
        return self is not Role.LOSS


class Method(StrEnum):
    """How the joint cost is shared over main and trim."""

    WEIGHT = "weight"
    MARKET_VALUE = "market_value"
    NET_REALISABLE_VALUE = "net_realisable_value"
    CONSTANT_MARGIN = "constant_margin"
    RELATIVE_VALUE = "relative_value"


class YieldsFrom(StrEnum):
    """Where the yields come from: the plan's own figures, or the yield tests that count."""

    DECLARED = "declared"
    TESTS = "tests"


@dataclass(frozen=True, slots=True)
class Output:
    """One output of a breakdown.

    Units: `expected_yield` is a fraction of the input's weight; every value and cost is money per kg of this output;
    `portion_weight_kg` is raw.
    """

    cut: str
    name: str
    role: Role
    expected_yield: Decimal
    uses: tuple[str, ...] = ()
    market_value: Decimal | None = None
    split_off_value: Decimal | None = None
    relative_value: Decimal | None = None
    finishing_cost: Decimal = ZERO
    credit_value: Decimal | None = None
    disposal_cost: Decimal = ZERO
    portion_weight_kg: Decimal | None = None

    @property
    def conversions(self) -> tuple[Conversion, ...]:
        """`each` of a cut is its portion weight."""
        if self.portion_weight_kg is None:
            return ()
        return (Conversion(unit="each", to_quantity=self.portion_weight_kg, to_unit="kg"),)


@dataclass(frozen=True, slots=True)
class BreakdownInput:
    """What is broken down: an ingredient, or a cut of another breakdown. Exactly one is named."""

    ingredient: str | None = None
    cut: str | None = None


@dataclass(frozen=True, slots=True)
class Breakdown:
    """A breakdown as recorded.

    Shape: of the tests that stand, all count, or the last `yields_from_last_tests` of them, or those made on
           `yields_from_tests_since` or later; at most one of the two is given.
    Units: minutes and packaging are per kg of input.
    """

    UNDATED: ClassVar[tuple[str, ...]] = ("name",)

    code: str
    name: str
    input: BreakdownInput
    outputs: tuple[Output, ...]
    in_use: bool = True
    method: Method = Method.MARKET_VALUE
    yields_from: YieldsFrom = YieldsFrom.TESTS
    labour_minutes_per_kg: Decimal = ZERO
    packaging_per_kg: Decimal = ZERO
    steps: tuple[str, ...] = ()
    yields_from_last_tests: int | None = None
    yields_from_tests_since: date | None = None

    @property
    def cuts(self) -> tuple[Output, ...]:
        return tuple(output for output in self.outputs if output.role.is_cut)

    def output(self, cut: str) -> Output | None:
        """The output with that code, or None."""
        return next((output for output in self.outputs if output.cut == cut), None)
