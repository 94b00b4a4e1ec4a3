"""The value of a breakdown: what comes of so much input and is used, less what it takes to make it.

    value   = sum over main and trim that is used (market_value x kg) + sum over by-products (credit_value x kg)
    charges = packaging + disposal + finishing of what is used + labour (minutes x rate)
    before labour = value - packaging - disposal - finishing;  after labour = that - labour

A market value is that of the cut ready-trimmed and finished, so finishing is a charge also where the minutes at the
block are left out. What is not used counts nothing, and is not finished. Rules that always hold: the method by which
the joint cost is shared does not come into it; a value that is missing is a gap that names the cut, never zero; without
a labour rate what is after labour is None, and the rest stands.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from service.domain.breakdown import Breakdown, Output, Role
from service.domain.compile_breakdowns import no_credit_value
from service.domain.exact_sums import added
from service.domain.findings import Gap
from service.domain.kitchen_settings import KitchenSettings
from service.domain.labour import NO_LABOUR_RATE, labour_cost
from service.domain.network import NIL
from service.domain.yields import Yields


@dataclass(frozen=True, slots=True)
class UsedOutput:
    """One output of so much input: how much comes off, how much of it is used, and what that is worth, exactly.

    Units:   kg; `value_per_kg` is money per kg (of a by-product its credit, of a loss its disposal, below zero); None
             where nobody has said it.
    """

    output: Output
    comes_off: Fraction
    used: Fraction
    value_per_kg: Fraction | None

    @property
    def value(self) -> Fraction | None:
        """Of what is used; nothing of it is worth nothing, whatever a kg is."""
        if not self.used:
            return NIL
        return None if self.value_per_kg is None else self.value_per_kg * self.used

    @property
    def not_used(self) -> Fraction:
        return self.comes_off - self.used

    @property
    def lost(self) -> Fraction | None:
        """What is not used would add, finished, less its finishing."""
        if not self.not_used:
            return NIL
        finishing = Fraction(self.output.finishing_cost) if self.output.role.carries_joint_cost else NIL
        return None if self.value_per_kg is None else (self.value_per_kg - finishing) * self.not_used

    @property
    def gap(self) -> Gap | None:
        """The value that is missing of what comes off."""
        if self.value_per_kg is not None or not self.comes_off:
            return None
        return no_credit_value(self.output) if self.output.role is Role.BY_PRODUCT else no_market_value(self.output)


@dataclass(frozen=True, slots=True)
class BreakdownValue:
    """What so much input makes. Money in all, exactly; None is not known, and the gaps say why."""

    input_kg: Fraction
    outputs: tuple[UsedOutput, ...]
    packaging: Fraction
    labour: Fraction | None

    @property
    def cuts(self) -> Fraction | None:
        """Main and trim that are used, ready-trimmed: what buying them would cost."""
        return added(*(output.value for output in self.outputs if output.output.role.carries_joint_cost))

    @property
    def credits(self) -> Fraction | None:
        return added(*(output.value for output in self.outputs if output.output.role is Role.BY_PRODUCT))

    @property
    def disposal(self) -> Fraction:
        return sum((Fraction(output.output.disposal_cost) * output.comes_off for output in self.outputs
                    if output.output.role is Role.LOSS), NIL)

    @property
    def finishing(self) -> Fraction:
        return sum((Fraction(output.output.finishing_cost) * output.used for output in self.outputs
                    if output.output.role.carries_joint_cost), NIL)

    @property
    def before_labour(self) -> Fraction | None:
        if self.cuts is None or self.credits is None:
            return None
        return self.cuts + self.credits - self.packaging - self.disposal - self.finishing

    @property
    def after_labour(self) -> Fraction | None:
        return None if self.before_labour is None or self.labour is None else self.before_labour - self.labour

    @property
    def lost(self) -> Fraction | None:
        """What using all that comes off would add."""
        return added(*(output.lost for output in self.outputs))

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """What is missing, in the order of the outputs."""
        found = tuple(output.gap for output in self.outputs if output.gap is not None)
        return found if self.labour is not None else (*found, NO_LABOUR_RATE)


def value_of(breakdown: Breakdown, yields: Yields, settings: KitchenSettings, input_kg: Fraction,
             used: Mapping[str, Fraction] | None = None) -> BreakdownValue:
    """What `input_kg` makes when of each cut `used` kilograms are used: none of a main or trim that it does not name,
    all of a by-product. Without it, all that comes off.

    Example: 10 kg of which 6 are used, worth 17.00 a kg and tied for 0.50: 102.00 less 3.00 and the minutes.
    """
    labour = labour_cost(breakdown.labour_minutes_per_kg, settings)
    return BreakdownValue(
        input_kg, tuple(_output(output, yields.fractions[output.cut] * input_kg, used) for output in breakdown.outputs),
        Fraction(breakdown.packaging_per_kg) * input_kg, None if labour is None else labour * input_kg)


def no_market_value(output: Output) -> Gap:
    """A cut that nobody has put a value on."""
    return Gap("missing_value", "cut", output.cut,
               f"{output.cut} has no market_value, at which it could be bought ready-trimmed: give it.")


def _output(output: Output, comes_off: Fraction, used: Mapping[str, Fraction] | None) -> UsedOutput:
    everything = used is None or output.role not in (Role.MAIN, Role.TRIM)
    taken = comes_off if used is None else used.get(output.cut, comes_off if everything else NIL)
    return UsedOutput(output, comes_off, taken, _value(output))


def _value(output: Output) -> Fraction | None:
    if output.role is Role.LOSS:
        return -Fraction(output.disposal_cost)
    value = output.credit_value if output.role is Role.BY_PRODUCT else output.market_value
    return None if value is None else Fraction(value)
