"""Compiling a kitchen: the records of one day become the linear network that the cascade costs.

Each ingredient, each breakdown in use, each cut, recipe and dish that stands is a node; a child always stands before
its parents, and the same records always give the same network. Rules that always hold:

- one unusable line, value or conversion is a gap of its own node; nothing else is harmed, nothing is raised;
- prices live in the ingredients' nodes alone, so that a change of prices rebuilds those and nothing else (`repriced`);
- nothing recurses; a loop that slipped into the records leaves its nodes with the gap `loop`.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from service.domain.as_purchased import makers, missing_conversion
from service.domain.breakdown import Breakdown
from service.domain.compile_breakdowns import cut_nodes, pool_node
from service.domain.compile_lines import LineCompiler
from service.domain.dish import Dish
from service.domain.errors import MissingConversion
from service.domain.findings import Gap
from service.domain.ingredient import Ingredient
from service.domain.kitchen import KitchenOnDay
from service.domain.labour import NO_LABOUR_RATE, labour_cost
from service.domain.loops import in_dependency_order
from service.domain.network import NIL, ONE, Key, Network, Node
from service.domain.price import Price
from service.domain.price_in_force import deciding_price, unit_price
from service.domain.quantity import unit_named
from service.domain.recipe import Recipe
from service.domain.yields import yields_of


def compile_network(kitchen: KitchenOnDay) -> Network:
    """The network of all that stands that day: ingredients, then breakdowns with their cuts, recipes, dishes.

    Exact:   every factor is a reduced fraction; the order of the lines of a record never matters to a figure.
    """
    nodes: list[Node] = [ingredient_node(kitchen, code) for code in sorted(kitchen.ingredients)]
    index: dict[Key, int] = {node.key: position for position, node in enumerate(nodes)}
    _add_breakdowns(kitchen, nodes, index)
    lines = LineCompiler(kitchen, index)
    _add_recipes(kitchen, lines, nodes, index)
    for _, dish in sorted(kitchen.dishes.items()):
        _add(dish_node(dish, kitchen, lines), nodes, index)
    return Network(tuple(nodes), index)


def repriced(network: Network, kitchen: KitchenOnDay, only: Collection[str] | None = None) -> Network:
    """The network of a kitchen that differs in its prices alone from the one that `network` was compiled from: in all
    prices, or in those of the ingredients named.

    Exact:   equal to compile_network(kitchen), at the cost of those ingredients only.
    """
    codes = kitchen.ingredients if only is None else kitchen.ingredients.keys() & only
    return network.with_nodes({network.index["ingredient", code]: ingredient_node(kitchen, code) for code in codes})


def _add(node: Node, nodes: list[Node], index: dict[Key, int]) -> None:
    index[node.key] = len(nodes)
    nodes.append(node)


def ingredient_node(kitchen: KitchenOnDay, code: str) -> Node:
    """An ingredient costs its unit price; without one, its material is not known."""
    ingredient = kitchen.ingredients[code]
    price = price_or_gap(kitchen, ingredient)
    if isinstance(price, Gap):
        return Node("ingredient", code, material_gaps=(price,))
    try:
        return Node("ingredient", code, material=unit_price(price, ingredient))
    except MissingConversion:
        gap = missing_conversion(("ingredient", code), price.pack_unit, ingredient.base_unit)
        return Node("ingredient", code, material_gaps=(gap,))


def price_or_gap(kitchen: KitchenOnDay, ingredient: Ingredient) -> Price | Gap:
    """The price that decides; a gap between several suppliers compares them by what a usable kg costs."""
    prices = kitchen.prices.get(ingredient.code, ())
    decision = deciding_price(ingredient, prices, kitchen.day, None)
    if isinstance(decision, Gap) and decision.code == "no_preferred_supplier":
        return deciding_price(ingredient, prices, kitchen.day, _usable_yield(kitchen, ingredient.code))
    return decision


def _usable_yield(kitchen: KitchenOnDay, ingredient: str) -> Fraction | None:
    """Main and trim per kg, by the first breakdown in use (in order of code); None when it is not broken down."""
    for code, breakdown in sorted(kitchen.breakdowns.items()):
        if breakdown.in_use and breakdown.input.ingredient == ingredient:
            fractions = yields_of(breakdown, kitchen.yield_tests.get(code, ()), kitchen.day).fractions
            usable = (fractions[output.cut] for output in breakdown.outputs if output.role.carries_joint_cost)
            return sum(usable, NIL)
    return None


def _add_breakdowns(kitchen: KitchenOnDay, nodes: list[Node], index: dict[Key, int]) -> None:
    made = makers(kitchen)
    in_use = {code: breakdown for code, breakdown in kitchen.breakdowns.items() if breakdown.in_use}
    order, loops = in_dependency_order({code: _maker_of_input(breakdown, made) for code, breakdown in in_use.items()})
    for code in order:
        breakdown = in_use[code]
        yields = yields_of(breakdown, kitchen.yield_tests.get(code, ()), kitchen.day)
        pool = pool_node(breakdown, yields, kitchen, index)
        _add(_looped(pool) if code in loops else pool, nodes, index)
        for node in cut_nodes(breakdown, yields, index[pool.key]):
            if made[node.code][0] is breakdown:
                _add(node, nodes, index)


def _maker_of_input(breakdown: Breakdown, made: Mapping[str, tuple[Breakdown, object]]) -> Sequence[str]:
    maker = made.get(breakdown.input.cut or "")
    return () if maker is None else (maker[0].code,)


def _add_recipes(kitchen: KitchenOnDay, lines: LineCompiler, nodes: list[Node], index: dict[Key, int]) -> None:
    order, loops = order_of_recipes(kitchen)
    for code in order:
        node = recipe_node(kitchen.recipes[code], kitchen, lines)
        _add(_looped(node) if code in loops else node, nodes, index)


def order_of_recipes(kitchen: KitchenOnDay) -> tuple[list[str], frozenset[str]]:
    """The recipes with what is used before its users; and those on a loop."""
    return in_dependency_order({
        code: [line.recipe for line in recipe.lines if line.recipe is not None]
        for code, recipe in kitchen.recipes.items()})


def recipe_node(recipe: Recipe, kitchen: KitchenOnDay, lines: LineCompiler) -> Node:
    """A recipe, per base unit of what it makes."""
    made = Fraction(recipe.makes_quantity) * unit_named(recipe.makes_unit).factor
    edges, gaps = lines.edges(recipe.lines, made)
    own = labour_cost(recipe.labour_minutes, kitchen.settings)
    return Node("recipe", recipe.code, edges, labour=own / made if own else NIL, material_gaps=gaps,
                labour_gaps=gaps if own is not None else (*gaps, NO_LABOUR_RATE))


def dish_node(dish: Dish, kitchen: KitchenOnDay, lines: LineCompiler) -> Node:
    """A dish, per portion."""
    portions = Fraction(dish.portions)
    edges, gaps = lines.edges(dish.lines, portions)
    own = labour_cost(dish.labour_minutes, kitchen.settings)
    scale = ONE + Fraction(dish.allowance_percent) / 100 if dish.allowance_percent else ONE
    return Node("dish", dish.code, edges, labour=own / portions if own else NIL, material_scale=scale,
                material_gaps=gaps,
                labour_gaps=gaps if own is not None else (*gaps, NO_LABOUR_RATE))


def _looped(node: Node) -> Node:
    gap = Gap("loop", node.kind, node.code,
              f"The {node.kind} {node.code} contains itself, directly or through others: take one of its uses out.")
    return replace(node, material_gaps=(*node.material_gaps, gap), labour_gaps=(*node.labour_gaps, gap))
