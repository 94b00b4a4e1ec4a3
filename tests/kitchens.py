"""Random kitchens for Hypothesis: balanced breakdowns with every method and edge, loop-free networks, dated prices.

Ingredients of every base unit, with and without conversions; prices from several suppliers, some withdrawn, ended or
still to come; breakdowns of ingredients and of cuts, declared or weighed, some not in use; recipes that nest; dishes.
Every second kitchen is tidy: nothing is missing, so that figures come out all the way up. In the others prices, values,
conversions, labour rates and whole records may be missing, since in a kitchen they may. Only what every write is
checked for (loops, yields above 1 in sum, a quantity of zero) does not come up.
"""

from datetime import date, timedelta
from decimal import ROUND_DOWN, Decimal
from itertools import pairwise
from typing import Any

from hypothesis import strategies as st

from service.domain.breakdown import Breakdown, BreakdownInput, Method, Output, Role, YieldsFrom
from service.domain.dish import Dish
from service.domain.history import Mark
from service.domain.ingredient import Ingredient
from service.domain.kitchen import KitchenOnDay
from service.domain.kitchen_settings import KitchenSettings, SectionTarget
from service.domain.price import Price, Withdrawal
from service.domain.quantity import Conversion
from service.domain.recipe import Line, Recipe
from service.domain.yield_test import WeighedOutput, YieldTest
from tests.builders import a_kitchen

DAY = date(2026, 3, 2)
SUPPLIERS = ("fenmoor", "holt", "brack")
MASSES, VOLUMES, COUNTS = ("kg", "g", "lb", "oz"), ("l", "ml", "us_cup", "imp_fl_oz", "us_tsp"), ("each", "dozen")
UNITS = {"kg": MASSES, "l": VOLUMES, "each": COUNTS}
ANY_UNIT = (*MASSES, *VOLUMES, *COUNTS)
MILLIONTH = Decimal("0.000001")
NOWHERE = {"ingredient": "gone-off", "cut": "never-cut", "recipe": "forgotten"}
Draw = Any


def decimals(low: str, high: str, places: int = 2) -> st.SearchStrategy[Decimal]:
    """Recorded amounts between two bounds."""
    scale = 10**places
    return st.integers(int(Decimal(low) * scale), int(Decimal(high) * scale)).map(
        lambda units: Decimal(units).scaleb(-places))


AMOUNTS = decimals("0.01", "40") | st.sampled_from([Decimal(0), Decimal("0.000001"), Decimal("123456.789")])
MAYBE_AMOUNTS = AMOUNTS | st.none()
QUANTITIES = decimals("0.001", "3", 3) | st.sampled_from([Decimal("0.000001"), Decimal(250), Decimal("1.333333")])
PERCENTS = st.sampled_from([Decimal(number) for number in (100, 100, 100, 80, 75, "66.6", 240, "0.5")])
MINUTES = st.sampled_from([Decimal(0), Decimal(0), Decimal(3), Decimal("7.5")])
@st.composite
def kitchens(draw: Draw) -> KitchenOnDay:
    """A whole kitchen as it stands on a day."""
    tidy = draw(st.booleans())
    ingredients = [draw(an_ingredient(f"ingredient-{n}", tidy)) for n in range(draw(st.integers(1, 4)))]
    prices = [price for ingredient in ingredients for price in draw(some_prices(ingredient, tidy))]
    breakdowns, tests, cuts = _breakdowns(draw, [ingredient.code for ingredient in ingredients], tidy)
    within = [("ingredient", ingredient.code) for ingredient in ingredients] + [("cut", cut) for cut in cuts]
    recipes = []
    for n in range(draw(st.integers(0, 4))):
        recipes.append(draw(a_recipe(f"recipe-{n}", within, tidy)))
        within.append(("recipe", f"recipe-{n}"))
    dishes = [draw(a_dish(f"dish-{n}", within, tidy)) for n in range(draw(st.integers(1, 2)))]
    records = (*ingredients, *prices, *breakdowns, *tests, *recipes, *dishes)
    return a_kitchen(*records, day=DAY, settings=draw(some_settings(tidy)))


@st.composite
def some_settings(draw: Draw, tidy: bool) -> KitchenSettings:
    return KitchenSettings(
        currency=draw(st.sampled_from(["GBP", "GBP", "JPY", "KWD"])),
        default_tax_rate_percent=draw(st.sampled_from([Decimal(0), Decimal(20), Decimal("17.5")])),
        menu_prices_include_tax=draw(st.booleans()),
        labour_rate_per_hour=draw(st.sampled_from([Decimal(24), Decimal("13.37"), Decimal(0)] + [None] * (not tidy))),
        default_target_food_cost_percent=draw(st.sampled_from([Decimal(30), Decimal("28.5")])),
        price_step=draw(st.sampled_from([None, Decimal("0.05"), Decimal(1)])),
        section_targets=tuple(SectionTarget(section, draw(st.sampled_from([Decimal("24.25"), Decimal(33)])))
                              for section in draw(st.sampled_from([(), ("grill",), ("larder", "cold", "grill")]))))


@st.composite
def some_conversions(draw: Draw, tidy: bool) -> tuple[Conversion, ...]:
    """None, one or two, so that they form a tree; two in a tidy kitchen."""
    whole: list[tuple[str, ...]] = [("kg", "l", "each"), ("each", "kg", "l")]
    joined = draw(st.sampled_from(whole if tidy else [(), ("kg", "each"), ("kg", "l"), ("l", "each"), *whole]))
    return tuple(
        Conversion(draw(st.sampled_from(UNITS[here])), draw(decimals("0.01", "3")), draw(st.sampled_from(UNITS[there])),
                   draw(st.sampled_from([Decimal(1), Decimal(1000)])))
        for here, there in pairwise(joined))


@st.composite
def an_ingredient(draw: Draw, code: str, tidy: bool) -> Ingredient:
    return Ingredient(code, code, "primal", draw(st.sampled_from(["kg", "kg", "l", "each"])),
                      draw(some_conversions(tidy)), draw(st.sampled_from([None, (), ("milk",)])), (),
                      "fenmoor" if tidy else draw(st.sampled_from([None, "fenmoor", "fenmoor"])))


@st.composite
def some_prices(draw: Draw, ingredient: Ingredient, tidy: bool) -> list[Price]:
    """Up to three, in a unit that mostly fits; some withdrawn, some not yet or no longer in force."""
    number = draw(st.sampled_from([0, 1, 1, 1, 2, 3]))
    standing = [Price(ingredient.code, "fenmoor", draw(AMOUNTS), draw(decimals("0.1", "12")),
                      draw(st.sampled_from(ANY_UNIT)), DAY, None, "", Mark(4, 1))] if tidy else []
    return standing + [Price(
        ingredient.code, draw(st.sampled_from(SUPPLIERS[:1] * 3 + SUPPLIERS)), draw(AMOUNTS),
        draw(decimals("0.1", "12")),
        draw(st.sampled_from(UNITS[ingredient.base_unit] * 2 + ANY_UNIT[:5])),
        DAY + timedelta(draw(st.sampled_from([-30, -30, -7, 0, 1]))),
        draw(st.sampled_from([None, None, None, DAY, DAY + timedelta(9), DAY - timedelta(1)])), "",
        Mark(draw(st.integers(1, 3)), n + 1),
        draw(st.sampled_from([None] * 6 + [Withdrawal(Mark(9, 1), "a slip")]))) for n in range(number)]


def _breakdowns(draw: Draw, ingredients: list[str], tidy: bool) -> tuple[list[Breakdown], list[YieldTest], list[str]]:
    """Up to three; the later ones may break down cuts of the earlier. One not in use makes the same cuts again."""
    breakdowns: list[Breakdown] = []
    tests: list[YieldTest] = []
    cuts: list[str] = []
    for n in range(draw(st.integers(0, 3))):
        code, spare = f"breakdown-{n}", draw(st.sampled_from([False] * 5 + [not tidy]))
        source = draw(st.sampled_from(
            [BreakdownInput(ingredient=code) for code in ingredients] + [BreakdownInput(cut=cut) for cut in cuts]
            + [BreakdownInput(cut=NOWHERE["cut"])] * (n == 2 and not tidy)))
        breakdown = draw(a_breakdown(code, source, tidy, in_use=not spare))
        breakdowns.append(breakdown)
        tests += draw(st.lists(a_test(breakdown), max_size=2)) if draw(st.booleans()) else []
        cuts += [output.cut for output in breakdown.outputs if output.role.is_cut or not tidy]
    return breakdowns, tests, cuts


@st.composite
def a_breakdown(draw: Draw, code: str, source: BreakdownInput, tidy: bool = True, in_use: bool = True) -> Breakdown:
    """Balanced: what the outputs weigh is at most the input. Values may be nil or missing, yields may be zero."""
    weights = draw(st.lists(st.sampled_from([1, 2, 3, 5, 7, 20] + [0] * (not tidy)), min_size=1, max_size=5))
    whole = max(1, sum(weights) + draw(st.sampled_from([0, 1, 4])))
    roles = st.sampled_from([Role.MAIN, Role.MAIN, Role.TRIM, Role.BY_PRODUCT, Role.LOSS])
    values = MAYBE_AMOUNTS if not tidy and draw(st.booleans()) else AMOUNTS
    credit = decimals("0", "0.50") if tidy else values
    portions = st.sampled_from([Decimal("0.267")] + [None] * (not tidy))
    outputs = tuple(Output(
        f"{code}-cut-{n}", f"{code}-cut-{n}", draw(roles), (Decimal(weight) / whole).quantize(MILLIONTH, ROUND_DOWN),
        market_value=draw(values), split_off_value=draw(MAYBE_AMOUNTS), relative_value=draw(values),
        finishing_cost=draw(st.sampled_from([Decimal(0), Decimal("0.40"), Decimal(9)])), credit_value=draw(credit),
        disposal_cost=draw(st.sampled_from([Decimal(0), Decimal("0.25")])),
        portion_weight_kg=draw(portions)) for n, weight in enumerate(weights))
    return Breakdown(code, code, source, outputs, in_use, draw(st.sampled_from(Method)),
                     draw(st.sampled_from(YieldsFrom)), draw(MINUTES),
                     draw(st.sampled_from([Decimal(0), Decimal("0.15")])))


@st.composite
def a_test(draw: Draw, breakdown: Breakdown) -> YieldTest:
    """Weights that balance; some set aside, some of the day after, some of another list of outputs."""
    cuts = [output.cut for output in breakdown.outputs] + draw(st.sampled_from([[], [], [], ["another-cut"]]))
    weights = [draw(st.sampled_from(["0", "0.742", "1.5", "0.003"])) for _ in cuts]
    outputs = tuple(WeighedOutput(cut, Decimal(weight)) for cut, weight in zip(cuts, weights, strict=True))
    total = sum((output.weight for output in outputs), Decimal("0.010"))
    return YieldTest(breakdown.code, DAY + timedelta(draw(st.sampled_from([-9, 0, 1]))),
                     draw(st.sampled_from(["kg", "lb"])), total, outputs, Mark(draw(st.integers(1, 9)), 1),
                     set_aside=draw(st.sampled_from([None] * 4 + [Withdrawal(Mark(9, 1), "the scale was wet")])))


@st.composite
def some_lines(draw: Draw, within: list[tuple[str, str]], tidy: bool) -> tuple[Line, ...]:
    """Lines of what there is, and seldom of what there is not; of a late one sooner than of an early one."""
    lines = []
    for _ in range(draw(st.integers(int(tidy), 4))):
        kind, code = draw(st.sampled_from(within * 3 + within[-4:] * 3 + list(NOWHERE.items()) * (not tidy)))
        units = MASSES + COUNTS if kind == "cut" and tidy else MASSES * 3 + ANY_UNIT
        lines.append(Line(draw(QUANTITIES), draw(st.sampled_from(units)), **{kind: code},
                          yield_percent=draw(PERCENTS), cooking_yield_percent=draw(PERCENTS)))
    return tuple(lines)


@st.composite
def a_recipe(draw: Draw, code: str, within: list[tuple[str, str]], tidy: bool) -> Recipe:
    return Recipe(code, code, draw(decimals("0.1", "4")), draw(st.sampled_from(MASSES * 2 + ANY_UNIT)),
                  draw(some_lines(within, tidy)), draw(MINUTES), draw(some_conversions(tidy)))


@st.composite
def a_dish(draw: Draw, code: str, within: list[tuple[str, str]], tidy: bool) -> Dish:
    portions = draw(st.sampled_from([Decimal(1), Decimal(4), Decimal("2.5")]))
    return Dish(code, code, portions, draw(some_lines(within, tidy)),
                allowance_percent=draw(st.sampled_from([Decimal(0), Decimal(2)])), labour_minutes=draw(MINUTES),
                menu_price=draw(st.sampled_from([None, Decimal(0)] + [Decimal(22), Decimal("9.50")] * 2)),
                tax_rate_percent=draw(st.sampled_from([None, Decimal(20), Decimal(0)])),
                target_food_cost_percent=draw(st.sampled_from([None, Decimal(30)])),
                section=draw(st.sampled_from(["", "grill", "cold"])))
