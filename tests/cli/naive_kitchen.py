"""A naive judge of the demo kitchen: food costs straight from its requests, in plain fractions, by recursion.

It shares no code with the service: its own units, its own price rule, its own sharing of joint cost. Material only.
Run as a script from the checkout's top, it prints what each dish costs: `python -m tests.cli.naive_kitchen`.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from typing import Any

from service.cli.demo_kitchen import demo_requests

Body = Mapping[str, Any]
UNITS = {"kg": ("kg", Fraction(1)), "g": ("kg", Fraction(1, 1000)),
         "l": ("l", Fraction(1)), "ml": ("l", Fraction(1, 1000)),
         "each": ("each", Fraction(1)), "dozen": ("each", Fraction(12))}


def in_base(quantity: object, unit: str, base: str, conversions: Iterable[Body]) -> Fraction:
    """The quantity in kg, l or each, over the record's own conversion where the two differ."""
    own, factor = UNITS[unit]
    amount = Fraction(str(quantity)) * factor
    if own == base:
        return amount
    for conversion in conversions:
        left, right = UNITS[conversion["unit"]], UNITS[conversion["to_unit"]]
        ratio = Fraction(conversion["to_quantity"]) * right[1] / (Fraction(conversion.get("quantity", "1")) * left[1])
        if (own, base) == (left[0], right[0]):
            return amount * ratio
        if (own, base) == (right[0], left[0]):
            return amount / ratio
    raise LookupError(f"no conversion from {unit} to {base}")


@dataclass
class NaiveKitchen:
    """The requests sorted by what they make; costs are looked up from the top, again and again."""

    day: date
    records: dict[str, dict[str, Body]] = field(default_factory=dict)
    prices: dict[str, list[Body]] = field(default_factory=dict)
    tests: dict[str, list[Body]] = field(default_factory=dict)
    settings: Body = field(default_factory=dict)

    @classmethod
    def of_the_demo(cls, loading_day: date, day: date | None = None) -> "NaiveKitchen":
        kitchen = cls(day or loading_day)
        for request in demo_requests(loading_day):
            kind, *rest = request.path.removeprefix("/v1/").split("/")
            if not rest:
                kitchen.settings = request.body
            elif len(rest) == 1:
                kitchen.records.setdefault(kind, {})[rest[0]] = request.body
            elif rest[1] != "items":  # what suppliers call things costs nothing
                kept = kitchen.prices if rest[1] == "prices" else kitchen.tests
                kept.setdefault(rest[0], []).append(request.body)
        return kitchen

    def unit_price(self, code: str) -> Fraction:
        """Money per base unit: the preferred supplier's, a price with a last day first, then the latest start."""
        ingredient, today = self.records["ingredients"][code], self.day.isoformat()
        price = max(
            (price for price in self.prices[code]
             if price["supplier"] == ingredient.get("preferred_supplier", price["supplier"])
             and price["effective_from"] <= today <= (price["effective_to"] or "9999-12-31")),
            key=lambda price: (price["effective_to"] is not None, price["effective_from"]))
        pack = in_base(price["pack_quantity"], price["pack_unit"], ingredient["base_unit"], ingredient["conversions"])
        return Fraction(price["amount"]) / pack

    def makers(self) -> Iterator[tuple[str, Body, Body]]:
        for code, breakdown in self.records["breakdowns"].items():
            for output in breakdown["outputs"]:
                yield code, breakdown, output

    def yields(self, code: str) -> dict[str, Fraction]:
        breakdown = self.records["breakdowns"][code]
        if breakdown["yields_from"] == "declared":
            return {output["cut"]: Fraction(output["expected_yield"]) for output in breakdown["outputs"]}
        tests = self.tests[code]
        paid_for = sum((Fraction(test["input_weight"]) for test in tests), Fraction(0))
        found: dict[str, Fraction] = {}
        for output in (output for test in tests for output in test["outputs"]):
            found[output["cut"]] = found.get(output["cut"], Fraction(0)) + Fraction(output["weight"]) / paid_for
        return found

    def cost_per_kg(self, cut: str) -> Fraction:
        code, breakdown, output = next(maker for maker in self.makers() if maker[2]["cut"] == cut)
        if output["role"] == "by_product":
            return Fraction(output["credit_value"])
        yields, worth = self.yields(code), {}
        pool = self.cost(*used_by(breakdown["input"])) + Fraction(breakdown["packaging_per_kg"])
        for each in breakdown["outputs"]:
            if each["role"] == "loss":
                pool += Fraction(each.get("disposal_cost", "0")) * yields[each["cut"]]
            elif each["role"] == "by_product":
                pool -= Fraction(each["credit_value"]) * yields[each["cut"]]
            else:
                worth[each["cut"]] = worth_per_kg(breakdown["method"], each)
        return pool * worth[cut] / sum(value * yields[each] for each, value in worth.items())

    def cost(self, kind: str, code: str) -> Fraction:
        """Material money per kg, l or each, whichever the ingredient, cut or recipe is measured in."""
        if kind == "ingredient":
            return self.unit_price(code)
        if kind == "cut":
            return self.cost_per_kg(code)
        recipe = self.records["recipes"][code]
        _, factor = UNITS[recipe["makes_unit"]]
        return self.cost_of_lines(recipe["lines"]) / (Fraction(recipe["makes_quantity"]) * factor)

    def cost_of_lines(self, lines: Iterable[Body]) -> Fraction:
        return sum((self.cost_of_line(line) for line in lines), Fraction(0))

    def cost_of_line(self, line: Body) -> Fraction:
        kind, code = used_by(line)
        base, conversions = self.measured_in(kind, code)
        quantity = in_base(line["quantity"], line["unit"], base, conversions)
        kept = Fraction(line.get("yield_percent", "100")) * Fraction(line.get("cooking_yield_percent", "100")) / 10_000
        return quantity / kept * self.cost(kind, code)

    def measured_in(self, kind: str, code: str) -> tuple[str, list[Body]]:
        if kind == "cut":
            output = next(output for _, _, output in self.makers() if output["cut"] == code)
            portion = output.get("portion_weight_kg")
            return "kg", [{"unit": "each", "to_quantity": portion, "to_unit": "kg"}] if portion else []
        record = self.records[f"{kind}s"][code]
        return record.get("base_unit") or UNITS[record["makes_unit"]][0], record["conversions"]

    def food_cost(self, code: str) -> Fraction:
        dish = self.records["dishes"][code]
        allowance = 1 + Fraction(dish["allowance_percent"]) / 100
        return self.cost_of_lines(dish["lines"]) * allowance / Fraction(dish["portions"])

    def food_cost_percent(self, code: str) -> Fraction:
        dish = self.records["dishes"][code]
        tax = Fraction(dish.get("tax_rate_percent", self.settings["default_tax_rate_percent"]))
        return 100 * self.food_cost(code) / (Fraction(dish["menu_price"]) / (1 + tax / 100))

    def target(self, code: str) -> Fraction:
        own = self.records["dishes"][code].get("target_food_cost_percent")
        return Fraction(own or self.settings["default_target_food_cost_percent"])

    def depth(self, recipe: str) -> int:
        """How many recipes stand on one another, this one counted."""
        below = [used_by(line) for line in self.records["recipes"][recipe]["lines"]]
        return 1 + max((self.depth(code) for kind, code in below if kind == "recipe"), default=0)


def used_by(line: Body) -> tuple[str, str]:
    return next((kind, line[kind]) for kind in ("ingredient", "cut", "recipe") if kind in line)


def worth_per_kg(method: str, output: Body) -> Fraction:
    """What the method shares the joint cost by, per kg of output."""
    if method == "weight":
        return Fraction(1)
    if method == "relative_value":
        return Fraction(output["relative_value"])
    ready = Fraction(output["market_value"]) - Fraction(output.get("finishing_cost", "0"))
    return Fraction(output["split_off_value"]) if method == "market_value" and "split_off_value" in output else ready


if __name__ == "__main__":
    demo = NaiveKitchen.of_the_demo(date(2026, 11, 25))
    for dish_code, dish_body in demo.records["dishes"].items():
        percent, wanted = demo.food_cost_percent(dish_code), demo.target(dish_code)
        print(f"{dish_code:26} {float(demo.food_cost(dish_code)):7.4f} of {dish_body['menu_price']:>6} "
              f"{float(percent):6.2f} % against {float(wanted):5.1f} % {'' if percent <= wanted else 'outside'}")
    for *_, made in demo.makers():
        if made["role"] in ("main", "trim"):
            print(f"{made['cut']:26} {float(demo.cost_per_kg(made['cut'])):7.4f} per kg, worth {made['market_value']}")
