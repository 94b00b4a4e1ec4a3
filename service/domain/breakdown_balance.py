"""The balance of one breakdown: how much of its input the cuts that are needed ask for, and what else comes off it.

    input for a cut   = kg needed of the cut / its yield
    input             = that of the main cut or trim that asks for most: it binds, and nothing of it is left over
    whole pieces      = input / weight of a piece, rounded up where the breakdown starts from what is bought
    comes off         = input x yield: used, left over, lost, and the rest unaccounted for

Rules that always hold: nobody buys a primal for its bones, so a by-product never binds: what recipes need of it beyond
what comes off is short, to be bought by itself. Weights conserve (used + left + lost + unaccounted = input), and so
does material cost: that of the input with packaging and disposal is that of what is used and of what is left, by every
method, by-products at the credit that the others were relieved of. A need that is not known leaves the input unknown,
with what is known beside it; a cut that is needed and has a yield of nil cannot be had, which is a gap.

Source:  the yield arithmetic of a butcher's test, turned round: from portions to the weight that must be bought.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from service.domain.breakdown import Breakdown, Output, Role
from service.domain.cascade import Costing
from service.domain.compile_breakdowns import charges_per_kg
from service.domain.exact_sums import added, worth
from service.domain.findings import Gap
from service.domain.network import NIL
from service.domain.portions import Piece, whole_portions
from service.domain.yields import Yields


@dataclass(frozen=True, slots=True)
class CutNeed:
    """What is needed of a cut, in kg: by the lines of dishes and recipes, and to be broken down further.

    Shape:   `known` False: at least so much, since a line that uses it cannot be converted.
    """

    by_lines: Fraction = NIL
    broken_down: Fraction = NIL
    known: bool = True

    @property
    def kg(self) -> Fraction:
        return self.by_lines + self.broken_down


NOTHING = CutNeed()


@dataclass(frozen=True, slots=True)
class OutputBalance:
    """One output: what is needed of it, and what comes off. None is not known.

    Units:   kg; costs and values in money per kg of the output. `input_needed` is None for what nothing needs.
    """

    output: Output
    yield_fraction: Fraction
    need: CutNeed
    input_needed: Fraction | None
    binds: bool
    comes_off: Fraction | None
    material_per_kg: Fraction | None
    labour_per_kg: Fraction | None

    @property
    def is_loss(self) -> bool:
        return self.output.role is Role.LOSS

    @property
    def used(self) -> Fraction | None:
        """What of it is needed and comes off."""
        return None if self.comes_off is None or not self.need.known else min(self.need.kg, self.comes_off)

    @property
    def short(self) -> Fraction | None:
        """What is needed of a by-product beyond what comes off."""
        return None if self.used is None else self.need.kg - self.used

    @property
    def left(self) -> Fraction | None:
        """What of a cut nothing uses; a loss leaves nothing."""
        if self.is_loss:
            return NIL
        return None if self.used is None or self.comes_off is None else self.comes_off - self.used

    @property
    def left_percent(self) -> Fraction | None:
        """Of what comes off; None where nothing does."""
        return self.left / self.comes_off * 100 if self.left is not None and self.comes_off else None

    @property
    def left_portions(self) -> int | None:
        """Whole raw portions of what is left; None where no portion weight is given."""
        portion = self.output.portion_weight_kg
        return whole_portions(self.left, Fraction(portion))[0] if portion and self.left is not None else None

    @property
    def used_value(self) -> Fraction | None:
        """Material cost of what of it is needed and comes off."""
        return worth(self.used, self.material_per_kg)

    @property
    def short_value(self) -> Fraction | None:
        """Of what is short, at the credit that recipes pay for it."""
        return worth(self.short, self.material_per_kg)

    @property
    def left_value(self) -> Fraction | None:
        """Material cost of what is left over: a by-product's is its credit."""
        return worth(self.left, self.material_per_kg)

    @property
    def left_cost(self) -> Fraction | None:
        """Material and labour of what is left over."""
        return added(self.left_value, worth(self.left, self.labour_per_kg))

    @property
    def left_market_value(self) -> Fraction | None:
        """What the kitchen would pay for it ready-trimmed; of a by-product its credit."""
        output = self.output
        value = output.credit_value if output.role is Role.BY_PRODUCT else output.market_value
        return worth(self.left, None if value is None else Fraction(value))


@dataclass(frozen=True, slots=True)
class BreakdownBalance:
    """One breakdown: what goes in, and what becomes of it.

    Units:   kg of input; costs in money per kg of input. `charges_per_kg` is packaging and disposal.
    Shape:   `needed_input` is before whole pieces, at least so much unless `known`; `input_kg` and `pieces` None: not
             known, or (pieces) nobody has said what one weighs.
    """

    breakdown: Breakdown
    yields: Yields
    piece: Piece
    needed_input: Fraction
    known: bool
    input_kg: Fraction | None
    pieces: int | None
    input_cost_per_kg: Fraction | None
    charges_per_kg: Fraction
    outputs: tuple[OutputBalance, ...]
    gaps: tuple[Gap, ...] = ()

    @property
    def binding(self) -> tuple[OutputBalance, ...]:
        return tuple(each for each in self.outputs if each.binds)

    @property
    def used_kg(self) -> Fraction | None:
        return added(*(each.used for each in self.outputs))

    @property
    def left_kg(self) -> Fraction | None:
        return added(*(each.left for each in self.outputs))

    @property
    def loss_kg(self) -> Fraction | None:
        return added(*(each.comes_off for each in self.outputs if each.is_loss))

    @property
    def unaccounted_kg(self) -> Fraction | None:
        return worth(self.input_kg, self.yields.unaccounted)

    @property
    def input_cost(self) -> Fraction | None:
        """Material cost of all that goes in: what is paid for it, or what the cut that it is cost."""
        return worth(self.input_kg, self.input_cost_per_kg)

    @property
    def charges(self) -> Fraction | None:
        return worth(self.input_kg, self.charges_per_kg)

    @property
    def used_value(self) -> Fraction | None:
        return added(*(each.used_value for each in self.outputs))

    def left_value(self, *roles: Role) -> Fraction | None:
        """Material cost of what is left of the cuts of these roles."""
        return added(*(each.left_value for each in self.outputs if each.output.role in roles))

    def left_market_value(self, *roles: Role) -> Fraction | None:
        return added(*(each.left_market_value for each in self.outputs if each.output.role in roles))


@dataclass(frozen=True, slots=True)
class Broken:
    """What the balance of a breakdown rests on: its yields, the piece to round up to, what a kg of its input costs."""

    breakdown: Breakdown
    yields: Yields
    piece: Piece
    input_cost_per_kg: Fraction | None


def breakdown_balance(broken: Broken, needs: Mapping[str, CutNeed], costing: Costing, whole_pieces: bool = True
                      ) -> BreakdownBalance:
    """The balance of a breakdown of whose cuts so much is needed.

    Example: 3 kg of a cap of 10 % and 6 kg of a roast of 60 % ask for 30 and 10 kg: the cap binds, and 12 kg of roast
             are left over.
    """
    breakdown, fractions = broken.breakdown, broken.yields.fractions
    asked = {cut: need.kg / fractions[cut] for cut, need in needs.items() if need.kg and fractions[cut]}
    decide = {cut: need for cut, need in needs.items() if cut in _carriers(breakdown)}
    gaps = tuple(_no_yield(cut) for cut, need in decide.items() if not fractions[cut] and (need.kg or not need.known))
    known = not gaps and all(need.known for need in decide.values())
    most = max((asked[cut] for cut in decide if cut in asked), default=NIL)
    weight = broken.piece.weight_kg if whole_pieces and breakdown.input.ingredient is not None else None
    pieces = -(-most // weight) if weight and known else None
    input_kg = None if not known else pieces * weight if pieces is not None and weight else most
    outputs = tuple(
        _output(output, fractions[output.cut], needs.get(output.cut, NOTHING), asked.get(output.cut), input_kg,
                costing, binds=known and output.cut in decide and asked.get(output.cut) == most)
        for output in breakdown.outputs)
    return BreakdownBalance(breakdown, broken.yields, broken.piece, most, known, input_kg, pieces,
                            broken.input_cost_per_kg, charges_per_kg(breakdown, broken.yields), outputs, gaps)


def _output(output: Output, fraction: Fraction, need: CutNeed, asked: Fraction | None, input_kg: Fraction | None,
            costing: Costing, *, binds: bool) -> OutputBalance:
    costs = None if output.role is Role.LOSS else costing.figures(("cut", output.cut))
    return OutputBalance(output, fraction, need, asked, binds, worth(input_kg, fraction),
                         None if costs is None else costs.material, None if costs is None else costs.labour)


def _carriers(breakdown: Breakdown) -> frozenset[str]:
    """The cuts that decide how much is bought."""
    return frozenset(output.cut for output in breakdown.outputs if output.role.carries_joint_cost)


def _no_yield(cut: str) -> Gap:
    return Gap("no_yield", "cut", cut, f"{cut} is needed and has a yield of zero, so that no input gives any: weigh "
               "some, or use another cut.")
