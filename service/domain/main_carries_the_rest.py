"""Main carries the rest: a view of a breakdown in which trim is taken at what it is worth, and the mains bear what then
remains. Not a method that can be recorded: it stands beside weight and market value, so that one sees how much of an
answer is the method's.

    joint cost        both pools: input, packaging, disposal and minutes, less the credits of by-products
    trim              market value a kg, finishing included; one that costs more to finish than it is worth carries
                      nothing, and costs its finishing
    rest              joint cost - sum over trim (what it carries x yield)
    main              its share of the rest, by market value as it leaves the knife, and its finishing

The rest goes by value and not by weight: by weight every main would cost the same, which the method weight shows
already. Rules that always hold: sum(cost per kg x yield) over main and trim is the joint cost and the finishing, to the
last digit; one main needs no value, it carries the rest whatever it is; what is missing (a value, a main, a rest of
nil or more) leaves every cut without a figure, and a gap says what.

Source:  the butcher's test as it is taught: trim and by-products credited at their value, the remainder over what the
         piece was bought for.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from service.domain.allocation import allocate, carrier_of
from service.domain.breakdown import Breakdown, Method, Output, Role
from service.domain.breakdown_pools import Pools
from service.domain.breakdown_value import no_market_value
from service.domain.cascade import credits_exceed_cost, in_order
from service.domain.compile_breakdowns import gap_of
from service.domain.findings import Gap
from service.domain.network import NIL
from service.domain.yields import Yields


@dataclass(frozen=True, slots=True)
class MainCarriesTheRest:
    """What a kg of each main and trim costs, exactly, material and labour together. A cut that is not there has none.

    Units:   `rest` is money per kg of input.
    """

    cost_per_kg: Mapping[str, Fraction] = field(default_factory=dict)
    rest: Fraction | None = None
    gaps: tuple[Gap, ...] = ()


def main_carries_the_rest(breakdown: Breakdown, yields: Yields, pools: Pools) -> MainCarriesTheRest:
    """The view of a breakdown, in use or not.

    Example: 15.00 to share, 0.2 kg of trim worth 9.00 and one main of 0.6 kg: the main carries 13.20, 22.00 a kg.
    """
    mains, trim = _of(breakdown, Role.MAIN, yields), _of(breakdown, Role.TRIM, yields)
    missing = [*pools.material_gaps, *pools.labour_gaps,
               *(no_market_value(output) for output in trim if output.market_value is None)]
    if not mains:
        missing.append(_no_main(breakdown))
    if pools.material is not None and pools.material < 0:
        missing.append(credits_exceed_cost(breakdown.code))
    if missing or pools.material is None or pools.labour is None:
        return MainCarriesTheRest(gaps=in_order(set(missing)))
    fractions = yields.fractions
    carried = {output.cut: _worth(output) for output in trim}
    rest = pools.material + pools.labour - sum((carried[cut] * fractions[cut] for cut in carried), NIL)
    if rest < 0:
        return MainCarriesTheRest(rest=rest, gaps=(_nothing_left(breakdown),))
    allocation = allocate(Method.MARKET_VALUE, [carrier_of(output, fractions[output.cut]) for output in mains])
    if not allocation.carried:
        return MainCarriesTheRest(rest=rest, gaps=tuple(gap_of(gap, breakdown) for gap in allocation.gaps))
    carried |= {cut: share.material_per_pool * rest for cut, share in allocation.carried.items()}
    finishing = {output.cut: Fraction(output.finishing_cost) for output in (*mains, *trim)}
    return MainCarriesTheRest({cut: each + finishing[cut] for cut, each in carried.items()}, rest)


def _of(breakdown: Breakdown, role: Role, yields: Yields) -> Sequence[Output]:
    """Those that weigh something: a kg of what does not has no cost."""
    return [output for output in breakdown.outputs if output.role is role and yields.fractions[output.cut]]


def _worth(trim: Output) -> Fraction:
    """What a kg of trim carries of the joint cost: its value less its finishing."""
    return max(Fraction(trim.market_value or 0) - Fraction(trim.finishing_cost), NIL)


def _no_main(breakdown: Breakdown) -> Gap:
    return Gap("nothing_carries_the_cost", "breakdown", breakdown.code,
               f"Breakdown {breakdown.code} has no main output that weighs anything, so that nothing carries the rest.")


def _nothing_left(breakdown: Breakdown) -> Gap:
    return Gap("trim_exceeds_cost", "breakdown", breakdown.code,
               f"The trim of breakdown {breakdown.code} is worth more than there is to carry, so that nothing is left "
               "for the mains: check its market values.")
