"""An independent judge of every published figure: naive recursion straight from the records, in exact fractions.

It shares no code with the service but the record types. Units, prices in force, yields, the five methods, gaps and
rounding are written out here once more, from their definitions, in the plainest form; slow is fine, clever is not.

A gap is the triple (code, kind, record). A cost is material, labour, what is known at least, and the gaps of each.
"""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from service.domain.breakdown import Breakdown, Output
from service.domain.dish import Dish
from service.domain.kitchen import KitchenOnDay
from service.domain.recipe import Line, Recipe
from tests.judge_measures import UNITS, converted

Gap = tuple[str, str, str]
Gaps = frozenset[Gap]
NONE: Gaps = frozenset()
NO_RATE: Gap = ("no_labour_rate", "settings", "settings")

@dataclass(frozen=True)
class Cost:
    """None is not known, and then there are gaps."""

    material: Fraction | None
    labour: Fraction | None
    known: Fraction
    gaps: Gaps = NONE
    labour_gaps: Gaps = NONE


@dataclass(frozen=True)
class CutVerdict:
    """What a cut should be published with."""

    cost: Cost
    yield_fraction: Fraction
    basis: str
    share: Fraction | None
    factor: Fraction | None
    yield_of_ingredient: Fraction | None


class Judge:
    """The figures that a kitchen should publish."""

    def __init__(self, kitchen: KitchenOnDay) -> None:
        self.kitchen = kitchen
        self.made: dict[str, tuple[Breakdown, Output]] = {
            output.cut: (breakdown, output) for breakdown in kitchen.breakdowns.values() if breakdown.in_use
            for output in breakdown.outputs if output.role.value != "loss"}
        self._costs: dict[tuple[str, str], Cost] = {}

    def cost(self, kind: str, code: str) -> Cost:
        if (kind, code) not in self._costs:
            judge: dict[str, Callable[[str], Cost]] = {
                "ingredient": self._ingredient, "cut": self._cut, "recipe": self._recipe, "dish": self._dish}
            self._costs[kind, code] = judge[kind](code)
        return self._costs[kind, code]

    # What is bought

    def _ingredient(self, code: str) -> Cost:
        ingredient = self.kitchen.ingredients.get(code)
        if ingredient is None:
            return _unknown(("not_in_force", "ingredient", code))
        best: dict[str, Any] = {}
        for price in self.kitchen.prices.get(code, ()):
            ended = price.effective_to is not None and price.effective_to < self.kitchen.day
            if price.withdrawn is None and price.effective_from <= self.kitchen.day and not ended:
                rivals = [price, *([best[price.supplier]] if price.supplier in best else [])]
                best[price.supplier] = sorted(rivals, key=lambda p: (
                    p.effective_to is None, -p.effective_from.toordinal(), -p.made.revision, -p.made.entry))[0]
        if ingredient.preferred_supplier is not None:
            best = {who: price for who, price in best.items() if who == ingredient.preferred_supplier}
        if len(best) != 1:
            gap = "no_preferred_supplier" if best else "no_price"
            return Cost(None, Fraction(0), Fraction(0), frozenset([(gap, "ingredient", code)]))
        price = next(iter(best.values()))
        pack = converted(Fraction(price.pack_quantity), price.pack_unit, ingredient.base_unit, ingredient.conversions)
        if pack is None:
            return Cost(None, Fraction(0), Fraction(0), frozenset([("missing_conversion", "ingredient", code)]))
        return Cost(Fraction(price.amount) / pack, Fraction(0), Fraction(price.amount) / pack)

    # What comes off the block

    def yields(self, breakdown: Breakdown) -> tuple[str, dict[str, Fraction]]:
        cuts = [output.cut for output in breakdown.outputs]
        tests = [test for test in self.kitchen.yield_tests.get(breakdown.code, ())
                 if test.set_aside is None and test.tested_on <= self.kitchen.day
                 and sorted(weighed.cut for weighed in test.outputs) == sorted(cuts)]
        if breakdown.yields_from.value != "tests" or not tests:
            return "declared", {output.cut: Fraction(output.expected_yield) for output in breakdown.outputs}
        paid, got = Fraction(0), dict.fromkeys(cuts, Fraction(0))
        for test in tests:
            kilo = UNITS[test.unit][1]
            paid += Fraction(test.input_weight) * kilo
            for weighed in test.outputs:
                got[weighed.cut] += Fraction(weighed.weight) * kilo
        return "tests", {cut: weight / paid for cut, weight in got.items()}

    def pools(self, breakdown: Breakdown) -> Cost:
        """M and L per kg of input."""
        _, y = self.yields(breakdown)
        source = breakdown.input
        kind, code = ("ingredient", source.ingredient) if source.ingredient else ("cut", source.cut)
        below = self.cost(kind, code)
        material, labour = below.material, below.labour
        gaps, labour_gaps = set(below.gaps), set(below.labour_gaps)
        if kind == "ingredient" and code in self.kitchen.ingredients:
            ingredient = self.kitchen.ingredients[code]
            per_kg = converted(Fraction(1), "kg", ingredient.base_unit, ingredient.conversions)
            if per_kg is None:
                gaps.add(("missing_conversion", "ingredient", code))
                labour_gaps.add(("missing_conversion", "ingredient", code))
            elif material is not None:
                material *= per_kg
        own = Fraction(breakdown.packaging_per_kg)
        for output in breakdown.outputs:
            if output.role.value == "loss":
                own += Fraction(output.disposal_cost) * y[output.cut]
            if output.role.value == "by_product" and y[output.cut] > 0:
                if output.credit_value is None:
                    gaps.add(("missing_value", "cut", output.cut))
                else:
                    own -= Fraction(output.credit_value) * y[output.cut]
        minutes = self._minutes(breakdown.labour_minutes_per_kg)
        if minutes is None:
            labour_gaps.add(NO_RATE)
        return Cost(None if gaps else material + own, None if labour_gaps else labour + minutes, Fraction(0),
                    frozenset(gaps), frozenset(labour_gaps))

    def _cut(self, cut: str) -> Cost:
        if cut not in self.made:
            return _unknown(("not_made", "cut", cut))
        breakdown, output = self.made[cut]
        if output.role.value == "by_product":
            if output.credit_value is None:
                return Cost(None, Fraction(0), Fraction(0), frozenset([("missing_value", "cut", cut)]))
            return Cost(Fraction(output.credit_value), Fraction(0), Fraction(output.credit_value))
        own, values = self._values(breakdown, cut)
        if not own and values[cut] == 0:
            return Cost(Fraction(0), Fraction(output.finishing_cost), Fraction(0))
        pools = self.pools(breakdown)
        if pools.material is not None and pools.material < 0:
            own = own | {("credits_exceed_cost", "breakdown", breakdown.code)}
        material, labour = self._rates(breakdown, cut, values, pools) if not own else (None, None)
        return Cost(material, labour, material or Fraction(0), pools.gaps | own, pools.labour_gaps | own)

    def _values(self, breakdown: Breakdown, cut: str) -> tuple[Gaps, dict[str, Fraction]]:
        """What a kg of each main and trim is shared on; and why the cut has no cost, if it has none."""
        _, y = self.yields(breakdown)
        carrying = [output for output in breakdown.outputs if output.role.value in ("main", "trim")]
        raw: dict[str, Fraction | None] = {output.cut: self._value(breakdown, output) for output in carrying}
        if len(carrying) == 1:
            raw = {cut: Fraction(1)}
        gaps: set[Gap] = {("missing_value", "cut", code) for code, value in raw.items() if value is None}
        values = {code: max(value or Fraction(0), Fraction(0)) for code, value in raw.items()}
        weighs = any(y[code] > 0 for code in values)
        if not gaps and weighs and sum(values[code] * y[code] for code in values) == 0:
            gaps.add(("nothing_carries_the_cost", "breakdown", breakdown.code))
        if y[cut] == 0:
            gaps.add(("no_yield", "cut", cut))
        return frozenset(gaps), values

    @staticmethod
    def _value(breakdown: Breakdown, output: Output) -> Fraction | None:
        market = None if output.market_value is None else Fraction(output.market_value)
        after_finishing = None if market is None else market - Fraction(output.finishing_cost)
        split_off = after_finishing if output.split_off_value is None else Fraction(output.split_off_value)
        relative = None if output.relative_value is None else Fraction(output.relative_value)
        return {"weight": Fraction(1), "market_value": split_off, "net_realisable_value": after_finishing,
                "constant_margin": market, "relative_value": relative}[breakdown.method.value]

    def _rates(self, breakdown: Breakdown, cut: str, values: dict[str, Fraction],
               pools: Cost) -> tuple[Fraction | None, Fraction | None]:
        _, y = self.yields(breakdown)
        finishing = {output.cut: Fraction(output.finishing_cost) for output in breakdown.outputs}
        if breakdown.method.value == "constant_margin" and len(values) > 1:
            part = values[cut] / sum(values[code] * y[code] for code in values)
            spread = sum(finishing[code] * y[code] for code in values if values[code] > 0)
            return (None if pools.material is None else part * pools.material,
                    None if pools.labour is None else part * (pools.labour + spread))
        share = values[cut] * y[cut] / sum(values[code] * y[code] for code in values)
        return (None if pools.material is None else pools.material * share / y[cut],
                None if pools.labour is None else pools.labour * share / y[cut] + finishing[cut])

    def cut(self, cut: str) -> CutVerdict:
        """All that is published of a cut."""
        breakdown, output = self.made[cut]
        basis, y = self.yields(breakdown)
        cost = self.cost("cut", cut)
        chain, ingredient = y[cut], breakdown.input
        while ingredient.cut is not None and ingredient.cut in self.made:
            above, _ = self.made[ingredient.cut]
            chain *= self.yields(above)[1][ingredient.cut]
            ingredient = above.input
        price = self._price_per_kg(ingredient.ingredient)
        by_product = output.role.value == "by_product"
        factor = None if by_product or cost.material is None or not price else cost.material / price
        return CutVerdict(cost, y[cut], basis, None if by_product else self._share(breakdown, output), factor,
                          None if ingredient.ingredient is None else chain)

    def _price_per_kg(self, code: str | None) -> Fraction | None:
        ingredient = self.kitchen.ingredients.get(code or "")
        if ingredient is None or self.cost("ingredient", ingredient.code).material is None:
            return None
        per_kg = converted(Fraction(1), "kg", ingredient.base_unit, ingredient.conversions)
        return None if per_kg is None else self.cost("ingredient", ingredient.code).material * per_kg

    def _share(self, breakdown: Breakdown, output: Output) -> Fraction | None:
        own, values = self._values(breakdown, output.cut)
        _, y = self.yields(breakdown)
        if own:
            return None
        if breakdown.method.value != "constant_margin" or len(values) == 1:
            return values[output.cut] * y[output.cut] / sum(values[code] * y[code] for code in values)
        cost, pools = self.cost("cut", output.cut), self.pools(breakdown)
        if None in (cost.material, cost.labour, pools.material, pools.labour) or pools.material + pools.labour == 0:
            return None
        unit_cost = cost.material + cost.labour
        return (unit_cost - Fraction(output.finishing_cost)) * y[output.cut] / (pools.material + pools.labour)

    # What is cooked and sold

    def _recipe(self, code: str) -> Cost:
        recipe = self.kitchen.recipes.get(code)
        if recipe is None:
            return _unknown(("not_in_force", "recipe", code))
        made = Fraction(recipe.makes_quantity) * UNITS[recipe.makes_unit][1]
        return self._of_lines(recipe, made, Fraction(1))

    def _dish(self, code: str) -> Cost:
        dish = self.kitchen.dishes[code]
        return self._of_lines(dish, Fraction(dish.portions), 1 + Fraction(dish.allowance_percent) / 100)

    def _of_lines(self, record: Recipe | Dish, parts: Fraction, scale: Fraction) -> Cost:
        lines = [self._line(line) for line in record.lines]
        minutes = self._minutes(record.labour_minutes)
        gaps = NONE.union(*(line.gaps for line in lines))
        labour_gaps = NONE.union(*(line.labour_gaps for line in lines), [NO_RATE] if minutes is None else [])
        known = sum((line.known for line in lines), Fraction(0)) * scale / parts
        labour = None if labour_gaps else (sum((line.labour for line in lines), Fraction(0)) + minutes) / parts
        return Cost(None if gaps else known, labour, known, gaps, labour_gaps)

    def _line(self, line: Line) -> Cost:
        """What the whole line costs."""
        kind = "ingredient" if line.ingredient else "cut" if line.cut else "recipe"
        code = line.ingredient or line.cut or line.recipe or ""
        below = self.cost(kind, code)
        kept = Fraction(line.yield_percent) / 100 * Fraction(line.cooking_yield_percent) / 100
        quantity = Fraction(line.quantity) / kept
        measured = self._measured(kind, code, quantity, line.unit)
        if measured is None:
            missing = {("missing_conversion", kind, code)}
            return Cost(None, None, Fraction(0), below.gaps | missing, below.labour_gaps | missing)
        return Cost(None if below.material is None else below.material * measured,
                    None if below.labour is None else below.labour * measured,
                    below.known * measured, below.gaps, below.labour_gaps)

    def _measured(self, kind: str, code: str, quantity: Fraction, unit: str) -> Fraction | None:
        """The quantity in the unit that costs are per; nil of what is not there, whose gap says so already."""
        if kind == "ingredient" and code in self.kitchen.ingredients:
            ingredient = self.kitchen.ingredients[code]
            return converted(quantity, unit, ingredient.base_unit, ingredient.conversions)
        if kind == "recipe" and code in self.kitchen.recipes:
            recipe = self.kitchen.recipes[code]
            return converted(quantity, unit, UNITS[recipe.makes_unit][0], recipe.conversions)
        if kind == "cut" and code in self.made:
            return converted(quantity, unit, "kg", self.made[code][1].conversions)
        return Fraction(0)

    def _minutes(self, minutes: Any) -> Fraction | None:
        if not minutes:
            return Fraction(0)
        rate = self.kitchen.settings.labour_rate_per_hour
        return None if rate is None else Fraction(minutes) / 60 * Fraction(rate)


def _unknown(gap: Gap) -> Cost:
    return Cost(None, None, Fraction(0), frozenset([gap]), frozenset([gap]))
