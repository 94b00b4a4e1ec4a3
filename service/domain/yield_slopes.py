"""Yield slopes: what one more kg of an output, per kg of input, does to the material cost that a breakdown hands on.

Per kg of input the pool is M, and a cut costs c_i = v_i M / T with T = sum(v y) over what carries the cost: v is what
the method shares on (1 by weight, never below nil), whatever else it does with labour. So for every method

    dM / dy_j  = disposal_j of a loss, -credit_j of a by-product, nil of main and trim
    dc_i / dy_j = (v_i / T) x slope_j,   slope_j = dM / dy_j - M v_j / T

and all cuts of a breakdown move together: the slopes are of the pool, weighed as the pool is weighed in a dish.

Rules that always hold: exact; an output whose value to share on is nil has a slope of nil, and none of it is handed on;
one that alone carries all is shared on 1; under constant_margin finishing is labour and moves no material.
"""

from collections.abc import Mapping
from fractions import Fraction

from service.domain.allocation import RULES, Carrier, carrier_of
from service.domain.breakdown import Breakdown, Output, Role
from service.domain.yields import Yields

NIL = Fraction(0)
ONE = Fraction(1)


def slopes_of(breakdown: Breakdown, yields: Yields, pool: Fraction) -> dict[str, Fraction] | None:
    """The slope of every output, losses too, at the yields and the material pool M per kg of input as they are.

    Units:   money per kg of input, for a yield that is greater by 1.
    Shape:   None where the cost cannot be shared: a value is missing, or nothing carries it.
    Example: M = 14.20 over 0.8 kg by weight: a slope of -17.75, so that a point more costs 0.1775 less a kg of input.
    """
    values = _shared_on(breakdown, yields)
    if values is None:
        return None
    total = sum((value * yields.fractions[cut] for cut, value in values.items()), NIL)
    if total == 0:
        return None
    return {output.cut: -pool * values[output.cut] / total if output.cut in values else _slope_of_pool(output)
            for output in breakdown.outputs}


def _shared_on(breakdown: Breakdown, yields: Yields) -> Mapping[str, Fraction] | None:
    """What a kg of each carrying output is shared on; None while one is not known."""
    carriers = [carrier_of(output, yields.fractions[output.cut])
                for output in breakdown.outputs if output.role.carries_joint_cost]
    if len(carriers) == 1:
        return {carriers[0].cut: ONE}
    values = {carrier.cut: _not_below_nil(breakdown, carrier) for carrier in carriers}
    known = {cut: value for cut, value in values.items() if value is not None}
    return known if len(known) == len(values) else None


def _not_below_nil(breakdown: Breakdown, carrier: Carrier) -> Fraction | None:
    value = RULES[breakdown.method](carrier)
    return None if value is None else max(value, NIL)


def _slope_of_pool(output: Output) -> Fraction:
    if output.role is Role.LOSS:
        return Fraction(output.disposal_cost)
    return -Fraction(output.credit_value or 0)
