"""Allocation: how the joint cost of a breakdown is shared over its main and trim outputs.

Per kg of input there are two pools, material M and labour L; finishing is labour after split-off and stays with the
output it is spent on. Each method is a small rule that says what an output is shared on (its weight, a value of it);
one splitter turns the rule into coefficients of M and L, so that the network stays linear and prices can move.

Rules that always hold, for every method and every edge:

- conservation: sum(unit cost_i x y_i) = M + L + sum(finishing_i x y_i), to the last digit, whenever there is no gap;
- a value to share on that is zero or negative counts as nil: its output carries nothing of the pools, costs its
  finishing only, and is found `costs_more_to_finish_than_worth`;
- one carrying output needs no values: its share is 1, whatever the method;
- one missing value leaves every cut without a figure, under a method that needs it;
- an output of yield zero has no unit cost (`no_yield`), and takes nothing from the others.

Under `constant_margin` the finishing is part of what is spread by value, which is what equal margins mean. The
finishing of a nil-valued output stays with that output, as under the other methods, and so is left out of what the
others spread: the sum is the same, and nothing is carried twice.

Source:  joint-cost methods as in cost accounting (physical measure, sales value at split-off, net realisable value,
         constant gross-margin percentage); IAS 2, paragraph 14, for by-products credited before the split.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from service.domain.breakdown import Method, Output
from service.domain.rounding import UNIT_COST_PLACES, published

NIL = Fraction(0)
ONE = Fraction(1)


@dataclass(frozen=True, slots=True)
class Carrier:
    """An output that carries joint cost (main or trim).

    Units: `yield_fraction` per kg of input; the rest is money per kg of this output (`relative_value` is a weight of
    the kitchen's own).
    """

    cut: str
    yield_fraction: Fraction
    finishing_cost: Fraction = NIL
    market_value: Fraction | None = None
    split_off_value: Fraction | None = None
    relative_value: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Carried:
    """What one cut carries, as coefficients of the pools M and L per kg of input.

    Material per kg = material_per_pool x M; labour per kg = labour_per_pool x L + labour_constant. `share` is the share
    of the joint cost; None under constant_margin, where it depends on the pools.
    """

    cut: str
    material_per_pool: Fraction
    labour_per_pool: Fraction
    labour_constant: Fraction
    share: Fraction | None


@dataclass(frozen=True, slots=True)
class AllocationGap:
    """Why a cut has no figure. `cut` None: no cut of the breakdown has. `about` is the cut that the gap is about."""

    code: str
    cut: str | None
    detail: str
    about: str | None = None


@dataclass(frozen=True, slots=True)
class AllocationFinding:
    """Something to look at about one cut; its figure stands."""

    code: str
    cut: str
    detail: str


@dataclass(frozen=True, slots=True)
class Allocation:
    """What every carrying cut carries. A cut that is missing from `carried` has a gap that says why."""

    carried: Mapping[str, Carried]
    gaps: tuple[AllocationGap, ...] = ()
    findings: tuple[AllocationFinding, ...] = ()


def carrier_of(output: Output, yield_fraction: Fraction) -> Carrier:
    """The carrier that a main or trim output is, at that yield."""
    return Carrier(
        cut=output.cut,
        yield_fraction=yield_fraction,
        finishing_cost=Fraction(output.finishing_cost),
        market_value=None if output.market_value is None else Fraction(output.market_value),
        split_off_value=None if output.split_off_value is None else Fraction(output.split_off_value),
        relative_value=None if output.relative_value is None else Fraction(output.relative_value),
    )


def by_weight(_: Carrier) -> Fraction | None:
    """A kilogram is a kilogram, whatever it is worth."""
    return ONE


def by_market_value(carrier: Carrier) -> Fraction | None:
    """s: the value as it leaves the knife; the finished value less finishing unless given."""
    return by_net_realisable_value(carrier) if carrier.split_off_value is None else carrier.split_off_value


def by_net_realisable_value(carrier: Carrier) -> Fraction | None:
    """v - finishing: what the finished cut is worth, less what finishing it costs."""
    return None if carrier.market_value is None else carrier.market_value - carrier.finishing_cost


def by_finished_value(carrier: Carrier) -> Fraction | None:
    """v: what the kitchen would pay for the cut ready-trimmed and finished."""
    return carrier.market_value


def by_relative_value(carrier: Carrier) -> Fraction | None:
    """r: set by the kitchen."""
    return carrier.relative_value


Rule = Callable[[Carrier], Fraction | None]

RULES: Mapping[Method, Rule] = {
    Method.WEIGHT: by_weight,
    Method.MARKET_VALUE: by_market_value,
    Method.NET_REALISABLE_VALUE: by_net_realisable_value,
    Method.CONSTANT_MARGIN: by_finished_value,
    Method.RELATIVE_VALUE: by_relative_value,
}

_VALUE_NEEDED: Mapping[Method, str] = {
    Method.MARKET_VALUE: "split_off_value or market_value",
    Method.NET_REALISABLE_VALUE: "market_value",
    Method.CONSTANT_MARGIN: "market_value",
    Method.RELATIVE_VALUE: "relative_value",
}


def allocate(method: Method, carriers: Sequence[Carrier]) -> Allocation:
    """Share the pools over the carriers by the method.

    Exact:   conserves cost to the last digit; the order of the carriers never matters.
    Example: breasts 100 lb at 1.10 of a joint value of 163 carry 110/163 of the cost by market_value.
    """
    if len(carriers) == 1:
        return _split(carriers, [ONE], pool_finishing=False)
    values = [RULES[method](carrier) for carrier in carriers]
    missing = [carrier for carrier, value in zip(carriers, values, strict=True) if value is None]
    if missing:
        return Allocation({}, (*_missing_values(method, missing), *_no_yields(carriers)))
    known = [max(value, NIL) for value in values if value is not None]
    return _split(carriers, known, pool_finishing=method is Method.CONSTANT_MARGIN)


def dearer_than_buying(cost_per_kg: Fraction, market_value: Fraction | None) -> bool:
    """Whether making the cut costs more than buying it, as published to 4 decimals. No market value: cannot be said."""
    if market_value is None:
        return False
    return published(cost_per_kg, UNIT_COST_PLACES) > published(market_value, UNIT_COST_PLACES)


def _split(carriers: Sequence[Carrier], values: Sequence[Fraction], pool_finishing: bool) -> Allocation:
    """The one splitter: `values` are what a kg of each carrier is shared on, none below zero."""
    pairs = list(zip(carriers, values, strict=True))
    total = sum((value * carrier.yield_fraction for carrier, value in pairs), NIL)
    if total == 0:
        return Allocation({}, (*_nothing_carries(carriers), *_no_yields(carriers)))
    finishing = sum((carrier.finishing_cost * carrier.yield_fraction for carrier, value in pairs if value > 0), NIL)
    weighing = [(carrier, value / total) for carrier, value in pairs if carrier.yield_fraction > 0]
    carried = {
        carrier.cut: _carried_at_equal_margin(carrier, per_pool, finishing) if pool_finishing
        else _carried_on_a_share(carrier, per_pool)
        for carrier, per_pool in weighing
    }
    findings = tuple(_not_worth_finishing(carrier) for carrier, per_pool in weighing if per_pool == 0)
    return Allocation(carried, _no_yields(carriers), findings)


def _carried_on_a_share(carrier: Carrier, per_pool: Fraction) -> Carried:
    share = per_pool * carrier.yield_fraction
    return Carried(carrier.cut, per_pool, per_pool, carrier.finishing_cost, share)


def _carried_at_equal_margin(carrier: Carrier, per_pool: Fraction, finishing: Fraction) -> Carried:
    """`finishing` is that of all outputs with a value, per kg of input; one without a value keeps its own."""
    constant = per_pool * finishing if per_pool else carrier.finishing_cost
    return Carried(carrier.cut, per_pool, per_pool, constant, None)


def _nothing_carries(carriers: Sequence[Carrier]) -> tuple[AllocationGap, ...]:
    """Where every carrier weighs nothing, the yields are what is missing, and each says so itself."""
    if carriers and not any(carrier.yield_fraction > 0 for carrier in carriers):
        return ()
    return (AllocationGap(
        "nothing_carries_the_cost", None,
        "No main or trim output has a value above zero to carry the joint cost: give one, or choose another method."),)


def _no_yields(carriers: Sequence[Carrier]) -> tuple[AllocationGap, ...]:
    mend = "has a yield of zero, so that a kg of it has no cost: weigh some, or leave it out."
    return tuple(
        AllocationGap("no_yield", carrier.cut, f"{carrier.cut} {mend}", carrier.cut)
        for carrier in carriers if carrier.yield_fraction == 0)


def _missing_values(method: Method, missing: Sequence[Carrier]) -> tuple[AllocationGap, ...]:
    mend = f"has no {_VALUE_NEEDED[method]}, which the method {method.value} shares the cost on: give it."
    return tuple(
        AllocationGap("missing_value", None, f"{carrier.cut} {mend}", carrier.cut) for carrier in missing)


def _not_worth_finishing(carrier: Carrier) -> AllocationFinding:
    return AllocationFinding(
        "costs_more_to_finish_than_worth", carrier.cut,
        f"{carrier.cut} has nothing of value to share the cost on, so that it costs its finishing only.")
