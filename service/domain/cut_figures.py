"""What a cut costs, and how it came to: yields, shares and the chain down to the ingredient that was bought.

    cost factor            material cost per kg over the unit price, per kg, of the ingredient at the start of the chain
    share of joint cost    (unit cost - finishing) x yield / K, which for all methods but constant_margin is the
                           method's own share, whatever K
    yield of ingredient    the product of the yields down the chain

A by-product costs its credit value and carries no share; a factor would say nothing of it. Findings are told from
published figures: a cut is dearer than buying when its published cost per kg is above its published market value.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from service.domain.allocation import allocate, carrier_of, dearer_than_buying
from service.domain.as_purchased import makers, measure_of_ingredient
from service.domain.breakdown import Breakdown, Method, Output, Role
from service.domain.cascade import Costing
from service.domain.compile_lines import unit_factor
from service.domain.findings import Finding, Gap
from service.domain.kitchen import KitchenOnDay
from service.domain.network import NIL, ONE
from service.domain.publication import cost_in_words, share_in_words, total
from service.domain.yields import Yields, yields_of


@dataclass(frozen=True, slots=True)
class Chain:
    """How a cut came from what was bought. `ingredient` None: the chain breaks off at a cut that nothing makes."""

    ingredient: str | None
    yield_of_ingredient: Fraction | None
    price_per_kg: Fraction | None


@dataclass(frozen=True, slots=True)
class CutFigures:
    """What a kg of a cut costs, exactly. None is not known, or says nothing.

    Units: money per kg of the cut; `yield_fraction` of the breakdown's input, `yield_of_ingredient` of what was bought.
    """

    output: Output
    breakdown: Breakdown
    currency: str
    yield_fraction: Fraction
    yield_basis: str
    material_cost_per_kg: Fraction | None
    labour_cost_per_kg: Fraction | None
    share_of_joint_cost: Fraction | None
    cost_factor: Fraction | None
    chain: Chain
    findings: tuple[Finding, ...] = ()

    @property
    def cost_per_kg(self) -> Fraction | None:
        return total(self.material_cost_per_kg, self.labour_cost_per_kg)

    @property
    def cost_per_portion(self) -> Fraction | None:
        """Of a raw portion; None when no portion weight is known."""
        if self.cost_per_kg is None or self.output.portion_weight_kg is None:
            return None
        return self.cost_per_kg * Fraction(self.output.portion_weight_kg)

    @property
    def status(self) -> str:
        return "incomplete" if self.cost_per_kg is None else "complete"

    def as_published(self) -> dict[str, Any]:
        """The figures as they go out: all to 4 decimals, None where there is no number."""
        source = self.breakdown.input
        return {
            "cut": self.output.cut,
            "name": self.output.name,
            "role": self.output.role.value,
            "currency": self.currency,
            "status": self.status,
            "breakdown": self.breakdown.code,
            "input": {"ingredient": source.ingredient} if source.ingredient is not None else {"cut": source.cut},
            "ingredient": self.chain.ingredient,
            "method": self.breakdown.method.value,
            "yield": share_in_words(self.yield_fraction),
            "yield_basis": self.yield_basis,
            "yield_of_ingredient": share_in_words(self.chain.yield_of_ingredient),
            "material_cost_per_kg": cost_in_words(self.material_cost_per_kg),
            "labour_cost_per_kg": cost_in_words(self.labour_cost_per_kg),
            "cost_per_kg": cost_in_words(self.cost_per_kg),
            "cost_factor": share_in_words(self.cost_factor),
            "share_of_joint_cost": share_in_words(self.share_of_joint_cost),
            "market_value": _value(self.output.market_value),
            "portion_weight_kg": _value(self.output.portion_weight_kg),
            "cost_per_portion": cost_in_words(self.cost_per_portion),
        }


class CutSheet:
    """The figures of the cuts of one kitchen; works out each breakdown's yields once."""

    def __init__(self, kitchen: KitchenOnDay, costing: Costing) -> None:
        self._kitchen = kitchen
        self._costing = costing
        self._made = makers(kitchen)
        self._yields: dict[str, Yields] = {}

    @property
    def cuts(self) -> tuple[str, ...]:
        """Every cut that a breakdown in use makes, in alphabetical order."""
        return tuple(sorted(self._made))

    def figures(self, cut: str) -> CutFigures:
        """What a kg of the cut costs.

        Raises:  KeyError for a cut that no breakdown in use makes.
        """
        breakdown, output = self._made[cut]
        yields = self.yields(breakdown)
        costs = self._costing.figures(("cut", cut))
        chain = self._chain(cut)
        by_product = output.role is Role.BY_PRODUCT
        return CutFigures(
            output=output, breakdown=breakdown, currency=self._kitchen.settings.currency,
            yield_fraction=yields.fractions[cut], yield_basis=yields.basis,
            material_cost_per_kg=costs.material, labour_cost_per_kg=costs.labour,
            share_of_joint_cost=None if by_product else self._share(breakdown, output, yields),
            cost_factor=None if by_product else _factor(costs.material, chain.price_per_kg),
            chain=chain, findings=self.findings(cut))

    def yields(self, breakdown: Breakdown) -> Yields:
        """The breakdown's yields on the kitchen's day."""
        if breakdown.code not in self._yields:
            tests = self._kitchen.yield_tests.get(breakdown.code, ())
            self._yields[breakdown.code] = yields_of(breakdown, tests, self._kitchen.day)
        return self._yields[breakdown.code]

    def findings(self, cut: str) -> tuple[Finding, ...]:
        """What a person should look at: found when sharing the cost, and a cost above what buying would be."""
        _, output = self._made[cut]
        found = self._costing.findings(("cut", cut))
        costs = self._costing.figures(("cut", cut))
        cost = None if costs.material is None else costs.material + (costs.labour or NIL)
        if cost is None or not output.role.carries_joint_cost:
            return found
        value = None if output.market_value is None else Fraction(output.market_value)
        if not dearer_than_buying(cost, value):
            return found
        return (*found, Finding(
            "dearer_than_buying", "cut", cut,
            f"A kg of {cut} costs {cost_in_words(cost)}, more than its market value of {cost_in_words(value)}: "
            "buying it ready-trimmed would be cheaper."))

    def _share(self, breakdown: Breakdown, output: Output, yields: Yields) -> Fraction | None:
        if breakdown.method is Method.CONSTANT_MARGIN and len(_carriers(breakdown)) > 1:
            return self._share_by_margin(breakdown, output, yields)
        carried = allocate(breakdown.method, [
            carrier_of(other, yields.fractions[other.cut]) for other in _carriers(breakdown)]).carried
        return carried[output.cut].share if output.cut in carried else None

    def _share_by_margin(self, breakdown: Breakdown, output: Output, yields: Yields) -> Fraction | None:
        """Under equal margins a share depends on the pools, and is none of nothing."""
        pool = self._costing.figures(("breakdown", breakdown.code))
        costs = self._costing.figures(("cut", output.cut))
        joint_cost, unit_cost = total(pool.material, pool.labour), total(costs.material, costs.labour)
        if not joint_cost or unit_cost is None:
            return None
        return (unit_cost - Fraction(output.finishing_cost)) * yields.fractions[output.cut] / joint_cost

    def _chain(self, cut: str) -> Chain:
        """Down the breakdowns to what was bought; on a loop, or where nothing makes the input, it breaks off."""
        product, seen = ONE, set()
        while cut in self._made and cut not in seen:
            seen.add(cut)
            breakdown, _ = self._made[cut]
            product *= self.yields(breakdown).fractions[cut]
            if breakdown.input.ingredient is not None:
                return Chain(breakdown.input.ingredient, product, self._price_per_kg(breakdown.input.ingredient))
            cut = breakdown.input.cut or ""
        return Chain(None, None, None)

    def _price_per_kg(self, code: str) -> Fraction | None:
        ingredient = self._kitchen.ingredients.get(code)
        if ingredient is None:
            return None
        factor = unit_factor(("ingredient", code), "kg", measure_of_ingredient(ingredient))
        price = self._costing.material(("ingredient", code))
        return None if isinstance(factor, Gap) or price is None else price * factor


def _carriers(breakdown: Breakdown) -> tuple[Output, ...]:
    return tuple(output for output in breakdown.outputs if output.role.carries_joint_cost)


def _factor(material: Fraction | None, price_per_kg: Fraction | None) -> Fraction | None:
    return None if material is None or not price_per_kg else material / price_per_kg


def _value(value: Decimal | None) -> str | None:
    return None if value is None else cost_in_words(Fraction(value))
