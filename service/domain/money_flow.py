"""Where the money of a primal goes: from its price through what comes off it to the dishes, per kg of the primal.

    price      is paid for all that is weighed: what is used, loss, what is unaccounted for, by weight (where outputs
               outweigh the input, by their share of what was weighed)
    primal     price + packaging and disposal + labour and finishing = credits of by-products + what each cut costs x kg
    cut        goes on to dishes by what one portion of each takes of it (equal covers), to the breakdown in use that
               breaks it down further by what that needs for the same portions, and is left where nothing takes it

A loss has no money of its own: what was paid for its weight comes back to the primal, and the cuts carry it. Rules that
always hold: exact; into everything but a source flows what flows out of it, so that all that is spent is all that
arrives; a breakdown that is not in use is drawn as if it were, down to its cuts, which no dish takes from it; without a
labour rate the flow is of material alone; without a price, a yield's value or a credit there is none, and the gaps say
why.

Source:  material flow cost accounting (ISO 14051, from memory) draws what a loss has cost beside what products carry.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from service.domain.as_purchased import makers
from service.domain.breakdown import Breakdown, Role
from service.domain.cascade import Costing, in_order
from service.domain.cut_uses import kg_in_dishes
from service.domain.findings import Gap
from service.domain.flow_costs import BreakdownCosts, breakdown_costs
from service.domain.kitchen import KitchenOnDay
from service.domain.network import NIL, ONE, Key

LEFT: Key = ("left", "")
REST: Key = ("dishes", "")
LABOUR, CHARGES, PRICE = "labour", "charges", "price"
USED, LOST, UNACCOUNTED = "used", "loss", "unaccounted"


@dataclass(frozen=True, slots=True)
class Stream:
    """Money per kg of primal that goes from one place to another. `kg` is the weight that goes with it, if one does."""

    source: Key
    target: Key
    money: Fraction
    kg: Fraction | None = None


@dataclass(frozen=True, slots=True)
class MoneyFlow:
    """The streams of a primal, every one above nil. Without any, `gaps` say what is missing, or nothing costs anything.

    Shape:   places are (kind, code): price, used, loss, unaccounted, labour and charges (of a breakdown), primal, cut,
             by_product, dish, and `LEFT`.
    Units:   money and kg, per kg of the primal.
    """

    streams: tuple[Stream, ...] = ()
    with_labour: bool = True
    gaps: tuple[Gap, ...] = ()

    def into(self, place: Key) -> Fraction:
        return sum((stream.money for stream in self.streams if stream.target == place), NIL)

    def out_of(self, place: Key) -> Fraction:
        return sum((stream.money for stream in self.streams if stream.source == place), NIL)

    @property
    def places(self) -> tuple[Key, ...]:
        """All places, sources before what they flow into, in the order of the streams."""
        return tuple(dict.fromkeys([*(stream.source for stream in self.streams),
                                    *(stream.target for stream in self.streams)]))

    @property
    def spent(self) -> Fraction:
        """All that flows in from outside."""
        return sum((self.out_of(place) for place in self.places if not self.into(place)), NIL)

    def gathered(self, most: int) -> "MoneyFlow":
        """The same with at most so many dishes by themselves, those that get most; the others are one place."""
        dishes = sorted((place for place in self.places if place[0] == "dish"), key=self.into, reverse=True)
        if len(dishes) <= most:
            return self
        few = set(dishes[:most])
        sums: defaultdict[tuple[Key, Key], list[Stream]] = defaultdict(list)
        for stream in self.streams:
            apart = stream.target[0] != "dish" or stream.target in few
            sums[stream.source, stream.target if apart else REST].append(stream)
        return MoneyFlow(tuple(_joined(source, target, of) for (source, target), of in sums.items()),
                         self.with_labour, self.gaps)


def money_flow(first: Breakdown, kitchen: KitchenOnDay, costing: Costing) -> MoneyFlow:
    """The flow of the ingredient that `first` breaks down, and of the breakdowns in use that follow it.

    Example: 14.20 a kg and 1.20 of minutes; 0.6 kg of roast at 20.00 carry 12.00 of it, to the two dishes that take it.
    """
    chain = [breakdown_costs(each, kitchen, costing) for each in _followed(first, kitchen)]
    gaps = in_order({gap for each in chain for gap in each.gaps})
    if gaps:
        return MoneyFlow(gaps=gaps)
    with_labour = all(each.labour_known for each in chain)
    tracing = _Tracing(chain, _taken(chain, costing) if first.in_use else {}, with_labour)
    return MoneyFlow(tuple(stream for stream in tracing.streams() if stream.money), with_labour)


def _followed(first: Breakdown, kitchen: KitchenOnDay) -> list[Breakdown]:
    """The breakdown, and those in use that break down its cuts further, each after what it takes."""
    found, made = [first], makers(kitchen)
    if not first.in_use:
        return found
    for breakdown in found:
        cuts = {cut.cut for cut in breakdown.cuts if made[cut.cut][0] is breakdown}
        found += [each for _, each in sorted(kitchen.breakdowns.items())
                  if each.in_use and each.input.cut in cuts and each not in found]
    return found


def _taken(chain: Iterable[BreakdownCosts], costing: Costing) -> Mapping[str, Mapping[str, Fraction]]:
    """Of every cut, by dish, what a portion takes."""
    return {cut.cut: kg_in_dishes(cut.cut, costing.network) for each in chain for cut in each.breakdown.cuts}


class _Tracing:
    """Follows the money down a chain of breakdowns, those that make a cut before those that take it."""

    def __init__(self, chain: Sequence[BreakdownCosts], taken: Mapping[str, Mapping[str, Fraction]],
                 with_labour: bool) -> None:
        self._chain, self._taken, self._with_labour = chain, taken, with_labour
        self._further: defaultdict[str, list[BreakdownCosts]] = defaultdict(list)
        for each in chain[1:]:
            self._further[each.breakdown.input.cut or ""].append(each)
        self._needs = self._needed()
        self._places: dict[str, Key] = {
            output.cut: ("by_product" if output.role is Role.BY_PRODUCT else "cut", output.cut)
            for each in chain for output in each.breakdown.cuts}

    def streams(self) -> Iterator[Stream]:
        first, weights = self._chain[0], {self._chain[0].breakdown.code: ONE}
        primal = ("primal", first.breakdown.input.ingredient or "")
        yield from self._paid(first, primal)
        for each in self._chain:
            place = primal if each is first else self._places[each.breakdown.input.cut or ""]
            yield from self._broken_down(each, place, weights)

    def _paid(self, first: BreakdownCosts, primal: Key) -> Iterator[Stream]:
        """The price, by what was weighed, and back to the primal."""
        price, fractions = first.input_material, first.yields.fractions
        lost = sum((fractions[output.cut] for output in first.breakdown.outputs if output.role is Role.LOSS), NIL)
        whole = max(ONE, sum(fractions.values(), NIL))
        parts = {USED: sum(fractions.values(), NIL) - lost, LOST: lost, UNACCOUNTED: max(first.yields.unaccounted, NIL)}
        for part, kg in parts.items():
            money = price * kg / whole
            yield Stream((PRICE, primal[1]), (part, ""), money, kg)
            yield Stream((part, ""), primal, money, kg)

    def _broken_down(self, each: BreakdownCosts, place: Key, weights: dict[str, Fraction]) -> Iterator[Stream]:
        """What so much input takes besides, and what comes off it."""
        code, kg = each.breakdown.code, weights.get(each.breakdown.code, NIL)
        if self._with_labour:
            yield Stream((LABOUR, code), place, kg * each.labour_added)
        yield Stream((CHARGES, code), place, kg * each.charges)
        for output in each.breakdown.cuts:
            weight = kg * each.yields.fractions[output.cut]
            money = weight * each.cost_per_kg(output.cut, self._with_labour)
            target = self._places[output.cut]
            yield Stream(place, target, money, weight)
            yield from self._goes_on(target, weight, money, weights)

    def _goes_on(self, place: Key, weight: Fraction, money: Fraction, weights: dict[str, Fraction]) -> Iterator[Stream]:
        """A cut to its dishes, and to what breaks it down."""
        cut, need = place[1], self._needs.get(place[1], NIL)
        if not need:
            yield Stream(place, LEFT, money, weight)
            return
        for dish, taken in self._taken.get(cut, {}).items():
            yield Stream(place, ("dish", dish), money * taken / need, weight * taken / need)
        for each in self._further[cut]:
            weights[each.breakdown.code] = weight * self._input_needed(each, self._needs) / need

    def _needed(self) -> dict[str, Fraction]:
        """Kg of every cut that one portion of every dish takes, directly and to be broken down further."""
        needs: dict[str, Fraction] = {cut: sum(dishes.values(), NIL) for cut, dishes in self._taken.items()}
        for each in reversed(self._chain[1:]):
            source = each.breakdown.input.cut or ""
            needs[source] = needs.get(source, NIL) + self._input_needed(each, needs)
        return needs

    @staticmethod
    def _input_needed(each: BreakdownCosts, needs: Mapping[str, Fraction]) -> Fraction:
        """What the cut that asks for most asks for: the others come off with it. By-products ask for nothing."""
        fractions = each.yields.fractions
        return max((needs.get(output.cut, NIL) / fractions[output.cut] for output in each.breakdown.outputs
                    if output.role.carries_joint_cost and fractions[output.cut]), default=NIL)


def _joined(source: Key, target: Key, streams: Sequence[Stream]) -> Stream:
    weights = [stream.kg for stream in streams]
    kg = None if None in weights else sum((weight for weight in weights if weight is not None), NIL)
    return Stream(source, target, sum((stream.money for stream in streams), NIL), kg)
