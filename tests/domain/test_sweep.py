"""The sweep against exact arithmetic: random networks, every published digit; the bound; guards that can fail.

The outside judge is `fractions.Fraction` of the standard library, through the exact cascade and menu.
"""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.cascade import cascade
from service.domain.decimal_column import DecimalColumn, decimal_text
from service.domain.denominators import BEYOND, CAP, of_product, of_sums, shared
from service.domain.dish import Dish
from service.domain.findings import Gap
from service.domain.kitchen_settings import KitchenSettings
from service.domain.menu import dish_figures
from service.domain.menu_terms import MenuTerms
from service.domain.network import Edge, Network, Node
from service.domain.published_menu import COLUMNS, PublishedDishes, food_costs, published_dishes
from service.domain.settle import nearest_whole, rounded, whole_step_up
from service.domain.sweep import CompiledSweep, sweep
from service.domain.unit_prices import UnitPrices

GAP = Gap("no_price", "ingredient", "shallot", "Record a price.")
KITCHEN = KitchenSettings(default_tax_rate_percent=Decimal(20), price_step=Decimal("0.05"))
PLAIN = [Fraction(n, d) for n, d in ((1, 2), (1, 4), (1, 8), (3, 40), (1, 20), (7, 1000), (2, 1), (1, 10))]
ODD = [Fraction(n, d) for n, d in ((1, 3), (2, 7), (5, 9), (123457, 1000003), (0, 1))]
STEPS = [None, Decimal("0.05"), Decimal("0.5"), Decimal("0.003")]
# Numbers are drawn from a seed: a network holds a hundred of them, and Hypothesis picks the seeds.
SEEDS = st.integers(0, 2**62).map(Random)


def factor(chance: Random) -> Fraction:
    return chance.choice((chance.choice(PLAIN), chance.choice(PLAIN), chance.choice(ODD), wild(chance)))


def wild(chance: Random) -> Fraction:
    return Fraction(chance.randint(1, 10**18), chance.randint(1, 10**18))


def cents(chance: Random) -> Fraction:
    return Fraction(chance.randint(0, 9_999), 100)


def price(chance: Random) -> Fraction:
    millionths = Fraction(chance.randint(0, 10**12), 10**6)
    return chance.choice((cents(chance), cents(chance), Fraction(chance.randint(0, 40), 2), millionths, wild(chance)))


def gaps(chance: Random) -> tuple[Gap, ...]:
    return (GAP,) if chance.random() < 0.04 else ()


def edges(chance: Random, usable: list[int], most: int) -> tuple[Edge, ...]:
    return tuple(Edge(chance.choice(usable), factor(chance)) for _ in range(chance.randint(0, most)))


def a_network(chance: Random) -> Network:
    """Ingredients, pools with credits that may exceed the cost, cuts, recipes upon recipes, dishes; gaps anywhere."""
    nodes = [Node("ingredient", f"good-{at}", material=price(chance), material_gaps=gaps(chance))
             for at in range(chance.randint(1, 5))]
    usable = list(range(len(nodes)))
    for number in range(chance.randint(0, 7)):
        if chance.random() < 0.5:
            bought = chance.choice([at for at in usable if nodes[at].kind != "recipe"])
            credit = chance.choice((Fraction(0), -nodes[bought].material, -price(chance), -cents(chance) / 100))
            nodes.append(Node("breakdown", f"broken-{number}", (Edge(bought, Fraction(1)),), credit, cents(chance)))
            nodes.append(Node("cut", f"cut-{number}", (Edge(len(nodes) - 1, factor(chance)),), labour=cents(chance)))
        else:
            nodes.append(Node("recipe", f"recipe-{number}", edges(chance, usable, 4), labour=cents(chance),
                              material_gaps=gaps(chance), labour_gaps=gaps(chance)))
        usable.append(len(nodes) - 1)
    for number in range(chance.randint(1, 6)):
        scale = chance.choice([Fraction(1), Fraction(51, 50), Fraction(1007, 1000)])
        nodes.append(Node("dish", f"dish-{number}", edges(chance, usable, 5), labour=cents(chance),
                          material_scale=scale, labour_gaps=gaps(chance)))
    return Network(tuple(nodes), {node.key: index for index, node in enumerate(nodes)})


def a_menu(chance: Random) -> tuple[Network, dict[str, Dish], KitchenSettings]:
    network = a_network(chance)
    dishes = {}
    for node in network.nodes:
        if node.kind == "dish":
            menu_price = chance.choice([None, Decimal(0), Decimal(chance.randint(1, 9_999)) / 100,
                                        Decimal(chance.randint(1, 10**12)) / 10**6])
            dishes[node.code] = Dish(node.code, node.code, Decimal(1), (), menu_price=menu_price,
                                     target_food_cost_percent=chance.choice([None, Decimal(0), Decimal("33.333333")]))
    kitchen = KitchenSettings(price_step=chance.choice(STEPS), menu_prices_include_tax=chance.random() < 0.8,
                              default_tax_rate_percent=chance.choice([Decimal(0), Decimal(20), Decimal("17.5")]))
    return network, dishes, kitchen


def exactly(network: Network, dishes: dict[str, Dish], kitchen: KitchenSettings) -> list[dict[str, object]]:
    costing = cascade(network)
    rows = []
    for node in network.nodes:
        if node.kind == "dish":
            figures = costing.figures(node.key)
            dish = dish_figures(dishes[node.code], kitchen, figures.material, figures.labour, figures.known_material)
            words = dish.as_published()
            rows.append({name: words[name] for name in (*COLUMNS, "within_target")})
    return rows


def swept(network: Network, dishes: dict[str, Dish], kitchen: KitchenSettings) -> PublishedDishes:
    compiled = CompiledSweep.of(network)
    return published_dishes(sweep(compiled), MenuTerms.of(compiled, dishes, kitchen))


@settings(max_examples=300, deadline=None)
@given(SEEDS)
def test_every_published_digit_equals_exact_arithmetic(chance):
    menu = a_menu(chance)
    assert swept(*menu).rows() == exactly(*menu)


@settings(max_examples=150, deadline=None)
@given(SEEDS)
def test_the_bound_holds_for_every_node_and_what_is_unknown_is_the_same(chance):
    network = a_network(chance)
    figures = sweep(CompiledSweep.of(network))
    costing = cascade(network)
    bound = figures.material_bound()
    for node, position in zip(network.nodes, figures.compiled.positions, strict=True):
        exact = costing.material(node.key)
        found = figures.material[position]
        if node.kind != "breakdown":
            assert np.isnan(found) == (exact is None)
            assert np.isnan(figures.labour[position]) == (costing.labour(node.key) is None)
        if exact is not None and not np.isnan(found):
            assert abs(Fraction(float(found)) - exact) <= Fraction(float(bound[position]))


@settings(max_examples=100, deadline=None)
@given(SEEDS)
def test_new_prices_on_the_old_network_equal_a_new_network(chance):
    network, dishes, kitchen = a_menu(chance)
    compiled = CompiledSweep.of(network)
    terms = MenuTerms.of(compiled, dishes, kitchen)
    published_dishes(sweep(compiled), terms)
    for _ in range(2):
        goods = [index for index, node in enumerate(network.nodes) if node.kind == "ingredient"]
        prices = {index: None if chance.random() < 0.1 else price(chance) for index in goods}
        nodes = tuple(replace(node, material=prices[at] or Fraction(0), material_gaps=() if prices[at] is not None
                              else (GAP,)) if at in prices else node for at, node in enumerate(network.nodes))
        found = published_dishes(sweep(compiled, UnitPrices.of(list(prices.values()))), terms)
        assert found.rows() == exactly(Network(nodes, network.index), dishes, kitchen)


def one_dish(*factors_and_prices: tuple[Fraction, Fraction], menu_price: str | None = None) -> PublishedDishes:
    goods = tuple(Node("ingredient", f"good-{at}", material=paid) for at, (_, paid) in enumerate(factors_and_prices))
    dish = Node("dish", "plate", tuple(Edge(at, factor) for at, (factor, _) in enumerate(factors_and_prices)))
    nodes = (*goods, dish)
    record = Dish("plate", "Plate", Decimal(1), (), menu_price=None if menu_price is None else Decimal(menu_price))
    return swept(Network(nodes, {node.key: at for at, node in enumerate(nodes)}), {"plate": record}, KITCHEN)


def test_a_tie_that_floats_miss_is_rounded_away_from_zero():
    # 0.15 x 1.007 = 0.15105, which is below the tie as a float product and above it in truth: it is the tie itself.
    published = one_dish((Fraction("0.15"), Fraction("1.007")))
    assert published.food_cost.text(0) == "0.1511"
    assert published.settled_exactly == 0


def test_a_hair_below_a_tie_is_settled_exactly_and_rounded_down():
    hair = Fraction(1, 10**30)
    published = one_dish((Fraction(1), Fraction("0.15105") - hair))
    assert published.food_cost.text(0) == "0.1510"
    assert published.settled_exactly >= 1


def test_a_target_price_that_is_a_whole_step_stays_there_and_a_hair_above_goes_up():
    # 3.60 / 0.30 x 1.20 = 14.40, a whole number of steps of 0.05.
    assert one_dish((Fraction("0.3"), Fraction(12))).target_menu_price.text(0) == "14.40"
    above = Fraction(12) + Fraction(1, 10**25)
    assert one_dish((Fraction("0.3"), above)).target_menu_price.text(0) == "14.45"


def test_thirty_point_zero_zero_four_is_within_thirty():
    # 30.004 % and 30.006 % of 10.00 before tax.
    assert one_dish((Fraction(1), Fraction("3.0004")), menu_price="12").row(0)["within_target"] is True
    assert one_dish((Fraction(1), Fraction("3.0006")), menu_price="12").row(0)["within_target"] is False


def test_profit_below_zero_rounds_away_from_zero():
    # Before tax 10.00; cost 10.00005: the profit is -0.00005.
    published = one_dish((Fraction(1), Fraction("10.00005")), menu_price="12")
    assert published.gross_profit.text(0) == "-0.0001"


def test_figures_beyond_sixty_four_bits_are_whole():
    published = one_dish((Fraction(10**18), Fraction(10**18)), menu_price="12")
    assert published.food_cost.text(0) == "1" + "0" * 36 + ".0000"
    assert published.food_cost.texts() == [published.food_cost.text(0)]
    assert published.row(0)["within_target"] is False


@pytest.mark.parametrize("factor", [Fraction(10**18), Fraction(1, 10**18)])
def test_twenty_levels_beyond_the_range_of_floats_are_exact(factor):
    back = 1 / factor
    factors = [factor] * 20 + [back] * 20
    nodes = [Node("ingredient", "good", material=Fraction("0.15105"))]
    nodes += [Node("recipe", f"r-{at}", (Edge(at, f),)) for at, f in enumerate(factors)]
    nodes.append(Node("dish", "plate", (Edge(len(nodes) - 1, Fraction(1)),)))
    network = Network(tuple(nodes), {node.key: at for at, node in enumerate(nodes)})
    published = swept(network, {"plate": Dish("plate", "Plate", Decimal(1), ())}, KITCHEN)
    assert published.food_cost.text(0) == "0.1511"


@pytest.mark.parametrize("far", [Fraction(10**100), Fraction(10**400), Fraction(1, 10**100), Fraction(1, 10**400)])
def test_prices_and_factors_beyond_the_range_of_floats_are_exact(far):
    published = one_dish((far, Fraction("0.15105") / far))
    assert published.food_cost.text(0) == "0.1511"


def test_a_pool_of_exactly_nil_leaves_its_cuts_known_and_a_hair_less_does_not():
    def cut_cost(credit: Fraction) -> str | None:
        nodes = (Node("ingredient", "primal", material=Fraction("14.20")),
                 Node("breakdown", "seamed", (Edge(0, Fraction(1)),), material=-credit),
                 Node("cut", "cap", (Edge(1, Fraction(10)),)), Node("dish", "plate", (Edge(2, Fraction(1)),)))
        network = Network(nodes, {node.key: at for at, node in enumerate(nodes)})
        published = swept(network, {"plate": Dish("plate", "Plate", Decimal(1), ())}, KITCHEN)
        return published.food_cost.text(0)

    assert cut_cost(Fraction("14.20")) == "0.0000"
    assert cut_cost(Fraction("14.20") + Fraction(1, 10**30)) is None
    assert cut_cost(Fraction("14.20") - Fraction(1, 10**30)) == "0.0000"


def ties_with(shrink: float) -> int:
    """How many of many real ties come out wrong when the bound is `shrink` of what is proven."""
    factors = [Fraction(n, 1000) for n in range(3, 400, 2)]
    values = np.array([float(f) * 0.35 for f in factors]) * 1e4
    exact = [nearest_whole(f * Fraction(35, 100) * 10_000) for f in factors]
    bound = values * 2.0**-50 * shrink
    spacing = np.full(len(factors), 1e-3)
    found, undecided = rounded(values, bound, lambda near: spacing[near], np.array([True]))
    assert undecided.size == 0
    return sum(int(f) != e for f, e in zip(found, exact, strict=True))


def test_a_bound_that_is_too_small_is_caught():
    assert ties_with(1.0) == 0
    assert ties_with(0.0) > 0


def test_a_denominator_that_is_too_small_would_publish_a_wrong_digit():
    # A hair below the tie: only a false claim about the denominator can take it for the tie.
    value = np.array([1510.5])
    bound = np.array([1e-9])
    honest, undecided = rounded(value, bound, lambda _: np.array([0.0]), np.array([True]))
    assert undecided.tolist() == [0]
    claimed, none_left = rounded(value, bound, lambda _: np.array([0.5]), np.array([True]))
    assert (claimed[0], none_left.size) == (1511.0, 0)
    assert honest.shape == (1,)


@given(st.lists(st.tuples(st.integers(1, 10**6), st.integers(1, 10**6), st.integers(1, 10**6)), min_size=1, max_size=6))
def test_denominators_are_multiples_of_the_exact_ones(parts):
    numerator, denominator, below = (np.array(column, dtype=np.int64) for column in zip(*parts, strict=True))
    terms = of_product(numerator, denominator, below)
    whole = of_sums(np.array([1], dtype=np.int64), terms, np.array([0]), np.array([len(parts)]))
    exact = sum((Fraction(n, d) * Fraction(7, b) for n, d, b in parts), Fraction(0))
    assert whole[0] == BEYOND or int(whole[0]) % exact.denominator == 0


def test_denominators_stop_at_the_cap_and_stay_beyond_it():
    far = np.array([CAP - 1], dtype=np.int64)
    assert shared(far, np.array([CAP], dtype=np.int64)).tolist() == [BEYOND]
    assert shared(np.array([BEYOND]), np.array([6])).tolist() == [BEYOND]
    assert shared(np.array([4]), np.array([6])).tolist() == [12]


def test_steps_go_up_and_a_whole_step_stays():
    half = Fraction(1, 2)
    assert [whole_step_up(value + half) for value in (Fraction(3), Fraction(301, 100), Fraction(0))] == [3, 4, 0]


@given(st.lists(st.one_of(st.none(), st.integers(-10**20, 10**20)), max_size=8), st.sampled_from([0, 2, 4]))
def test_texts_equal_those_of_decimal(values, places):
    fits = [value if value is not None and abs(value) < 2**63 else 0 for value in values]
    large = {row: value for row, value in enumerate(values) if value is not None and abs(value) >= 2**63}
    column = DecimalColumn(np.array(fits, dtype=np.int64), np.array([v is not None for v in values], dtype=bool),
                           places, large)
    expected = [None if value is None else format(Decimal(f"{value}E-{places}"), "f") for value in values]
    assert column.texts() == expected
    assert [column.text(row) for row in range(len(values))] == expected


def test_text_has_all_its_places():
    assert [decimal_text(5, 4), decimal_text(-41898, 4), decimal_text(12, 0)] == ["0.0005", "-4.1898", "12"]


@settings(max_examples=50, deadline=None)
@given(SEEDS)
def test_food_costs_alone_are_those_of_the_whole_menu(chance):
    menu = a_menu(chance)
    compiled = CompiledSweep.of(menu[0])
    figures = sweep(compiled)
    assert food_costs(figures).texts() == published_dishes(figures, MenuTerms.of(compiled, *menu[1:])).food_cost.texts()
