"""What lean that goes into the bin costs: over-trimming made visible.

A part of a kg of input goes from one or more outputs that carry the cost (main, trim) into loss. Two ways to see it:

    what it was worth    part x (market value - finishing that it did not get, never below nil, + disposal)
    what is left bears   sum(rise of the cost per kg of every cut x what is left of it), which is
                         part x (cost per kg of what was lost - its finishing + disposal)

Rules that always hold: exact; what is lost joins the losses in proportion to their yields (alike where all are nil; a
breakdown without a loss has it unaccounted for), and is disposed of as they are; costs are those of the breakdown at
the other yields, by its own method, material and labour together; more than an output gives cannot be lost; what is
missing is a gap and no figure: a market value, or whatever the costs lack.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from service.domain.breakdown import Breakdown, Output, Role
from service.domain.cascade import Costing, cascade, in_order
from service.domain.compile_breakdowns import cut_nodes, pool_node
from service.domain.findings import Gap
from service.domain.kitchen import KitchenOnDay
from service.domain.lean_in_the_bin import LeanInTheBin
from service.domain.network import NIL, Key, Network, Node
from service.domain.publication import percent_in_words
from service.domain.uses import used_by_input
from service.domain.yields import Yields, weighed

Taken = Mapping[str, Fraction]
"""By output, the part of a kg of input that goes into loss."""


@dataclass(frozen=True, slots=True)
class LeanCost:
    """What a kg of lean costs at some yields: of each cut, and on average over all that carry the cost.

    Shape:   None where it is not known (`gaps` says why), or where there is none of it.
    """

    per_kg: Mapping[str, Fraction | None]
    average: Fraction | None
    gaps: tuple[Gap, ...] = ()


@dataclass(frozen=True, slots=True)
class LeanLoss:
    """What a loss of lean costs, exactly; None is not known, and the gaps say why.

    Units:   `part` and everything `_per_kg_of_input` per kg of the breakdown's input; the rest is money per kg of lean.
    """

    part: Fraction
    market_value: Fraction | None
    value: Fraction | None
    disposal: Fraction
    before: LeanCost
    after: LeanCost | None
    borne_per_kg_of_input: Fraction | None
    gaps: tuple[Gap, ...]

    @property
    def value_per_kg_of_input(self) -> Fraction | None:
        """What was lost by what it was worth, and what it cost to be rid of it."""
        return None if self.value is None else self.part * (self.value + self.disposal)

    def cost_per_kg(self, cut: str | None) -> tuple[Fraction | None, Fraction | None, Fraction | None]:
        """Of a cut, or on average over the lean: cost per kg before and after, and the rise."""
        before, after = (None if costs is None else costs.average if cut is None else costs.per_kg.get(cut)
                         for costs in (self.before, self.after))
        return before, after, None if before is None or after is None else after - before


class LeanLosses:
    """What losses of lean of one breakdown cost, in use or not, at the yields that are in force."""

    def __init__(self, breakdown: Breakdown, yields: Yields, kitchen: KitchenOnDay, costing: Costing) -> None:
        self.breakdown, self.yields = breakdown, yields
        self._kitchen = kitchen
        self._input = _input_node(used_by_input(breakdown.input), costing)
        self.now = self._costs_at(yields.fractions)

    @property
    def lean(self) -> tuple[Output, ...]:
        """What carries the cost."""
        return tuple(output for output in self.breakdown.outputs if output.role.carries_joint_cost)

    def in_proportion(self, part: Fraction, role: Role | None = None) -> Taken:
        """The part taken from all lean, or from one role of it, in proportion to the yields; nothing where there is
        none."""
        yields = {output.cut: self.yields.fractions[output.cut] for output in self.lean if role in (None, output.role)}
        whole = sum(yields.values(), NIL)
        return {cut: part * fraction / whole for cut, fraction in yields.items() if fraction} if whole else {}

    def of(self, taken: Taken) -> LeanLoss:
        """What it costs that so much of each output goes into loss."""
        part, disposal = sum(taken.values(), NIL), self._disposal()
        market_value, value, missing = self._worth(taken, part)
        short = [_less_than_lost(cut, self.yields.fractions[cut], lost) for cut, lost in taken.items()
                 if lost > self.yields.fractions[cut]]
        after = None if short or not part else self._costs_at(self._with_lost(taken))
        borne = None if after is None else self._borne(after, taken)
        known = borne is not None or after is None
        gaps = in_order({*missing, *short, *self.now.gaps, *(() if known or after is None else after.gaps)})
        return LeanLoss(part, market_value, None if short else value, disposal, self.now, after, borne, gaps)

    def _costs_at(self, fractions: Mapping[str, Fraction]) -> LeanCost:
        """By the very nodes that the network of the kitchen has, over an input that costs what it costs."""
        yields, kitchen = Yields(self.yields.basis, fractions), self._kitchen
        place: dict[Key, int] = {} if self._input is None else {self._input.key: 0}
        input_nodes = () if self._input is None else (self._input,)
        pool = pool_node(self.breakdown, yields, kitchen, place)
        nodes = (*input_nodes, pool, *cut_nodes(self.breakdown, yields, len(input_nodes)))
        costing = cascade(Network(nodes, {node.key: index for index, node in enumerate(nodes)}))
        there = [output.cut for output in self.lean if fractions[output.cut]]
        costs = {cut: _whole_cost(costing, ("cut", cut)) for cut in there}
        gaps = in_order({gap for cut in there for gap in costing.gaps(("cut", cut))})
        if not there or None in costs.values():
            return LeanCost(costs, None, gaps)
        whole = sum((fractions[cut] for cut in there), NIL)
        return LeanCost(costs, sum(((costs[cut] or NIL) * fractions[cut] for cut in there), NIL) / whole, gaps)

    def _with_lost(self, taken: Taken) -> dict[str, Fraction]:
        fractions = {cut: fraction - taken.get(cut, NIL) for cut, fraction in self.yields.fractions.items()}
        part = sum(taken.values(), NIL)
        return fractions | {cut: fractions[cut] + part * share for cut, share in self._shares_of_losses().items()}

    def _shares_of_losses(self) -> dict[str, Fraction]:
        losses = {output.cut: self.yields.fractions[output.cut]
                  for output in self.breakdown.outputs if output.role is Role.LOSS}
        whole = sum(losses.values(), NIL)
        return {cut: fraction / whole if whole else Fraction(1, len(losses)) for cut, fraction in losses.items()}

    def _disposal(self) -> Fraction:
        costs = {output.cut: Fraction(output.disposal_cost) for output in self.breakdown.outputs}
        return sum((share * costs[cut] for cut, share in self._shares_of_losses().items()), NIL)

    def _worth(self, taken: Taken, part: Fraction) -> tuple[Fraction | None, Fraction | None, list[Gap]]:
        """Per kg of what is lost: its market value, and that less the finishing it did not get."""
        outputs = [output for output in self.lean if taken.get(output.cut)]
        missing = [_no_market_value(output) for output in outputs if output.market_value is None]
        if missing or not part:
            return None, None, missing
        values = {output.cut: Fraction(output.market_value or 0) for output in outputs}
        worth = {output.cut: max(values[output.cut] - Fraction(output.finishing_cost), NIL) for output in outputs}
        gross, net = (sum((taken[cut] * each for cut, each in of.items()), NIL) / part for of in (values, worth))
        return gross, net, []

    def _borne(self, after: LeanCost, taken: Taken) -> Fraction | None:
        """What the cuts that are left cost more, per kg of input; nothing can be said where none is left."""
        if after.average is None or self.now.average is None:
            return None
        return sum((((cost or NIL) - (self.now.per_kg[cut] or NIL)) * (self.yields.fractions[cut] - taken.get(cut, NIL))
                    for cut, cost in after.per_kg.items()), NIL)


def lean_lost(seen: LeanInTheBin) -> Fraction:
    """What the sign of lean in the bin comes to, per kg that was paid for in its later tests.

    The fall of trim, as far as loss rose by as much; the sign is per kg on the block where all tests were drained.
    """
    part = min(seen.earlier.trim - seen.later.trim, seen.later.loss - seen.earlier.loss)
    tested = [weighed(test) for test in seen.later.tests]
    opened = [test.opened for test in tested if test.opened is not None]
    if len(opened) < len(tested):
        return part
    return part * sum(opened, NIL) / sum((test.paid_for for test in tested), NIL)


def _input_node(key: Key, costing: Costing) -> Node | None:
    """The input as a node that costs what the kitchen's costs; None where it does not stand that day."""
    if key not in costing.network.index:
        return None
    costs = costing.figures(key)
    return Node(*key, material=costs.material or NIL, labour=costs.labour or NIL,
                material_gaps=in_order(costs.material_gaps), labour_gaps=in_order(costs.labour_gaps))


def _whole_cost(costing: Costing, key: Key) -> Fraction | None:
    costs = costing.figures(key)
    return None if costs.material is None or costs.labour is None else costs.material + costs.labour


def _no_market_value(output: Output) -> Gap:
    return Gap("missing_value", "cut", output.cut,
               f"{output.cut} has no market_value, at which what is lost of it is counted: give it.")


def _less_than_lost(cut: str, there: Fraction, lost: Fraction) -> Gap:
    return Gap("less_than_lost", "cut", cut,
               f"A kg of input gives {percent_in_words(there * 100)} points of {cut}, so that "
               f"{percent_in_words(lost * 100)} cannot be lost of it: ask for fewer points.")
