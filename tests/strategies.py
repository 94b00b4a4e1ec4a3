"""Hypothesis strategies: what a kitchen may record, edges included."""

from fractions import Fraction

from hypothesis import strategies as st

from service.domain.allocation import Carrier
from service.domain.findings import Gap
from service.domain.network import Edge, Network, Node


def amounts(highest: int = 40) -> st.SearchStrategy[Fraction]:
    """An amount as recorded: not below zero, at most 6 decimals; zero comes up often."""
    recorded = st.integers(1, highest * 10**6).map(lambda millionths: Fraction(millionths, 10**6))
    return st.one_of(st.just(Fraction(0)), recorded)


def yield_fractions(highest: Fraction = Fraction(1, 4)) -> st.SearchStrategy[Fraction]:
    """A yield as tests give it: a ratio of whole grams, seldom a round number; sometimes zero."""
    return st.builds(lambda part, whole: highest * Fraction(min(part, whole), whole),
                     st.integers(0, 9000), st.integers(1, 9000))


def carriers(missing_values: bool = False, smallest: int = 2, largest: int = 6) -> st.SearchStrategy[list[Carrier]]:
    """Main and trim outputs with values at the edge: nil, below the finishing, and (where asked for) missing."""
    value = st.one_of(st.none(), amounts()) if missing_values else amounts()
    facts = st.tuples(yield_fractions(), amounts(8), value, st.one_of(st.none(), amounts()), value)
    return st.lists(facts, min_size=smallest, max_size=largest).map(
        lambda rows: [Carrier(f"cut-{position}", *row) for position, row in enumerate(rows)])


def factors() -> st.SearchStrategy[Fraction]:
    """How much of a child goes into a node: seldom a round number; nil where nothing of it counts."""
    return st.one_of(st.just(Fraction(0)), st.fractions(Fraction(1, 999), 9, max_denominator=999))


@st.composite
def networks(draw: st.DrawFn) -> Network:
    """A loop-free network as kitchens compile to: ingredients with prices, a pool with its cuts, recipes that nest,
    dishes with an allowance. One ingredient in four has no price; a node may stand below another more than once."""
    nodes = [Node("ingredient", f"good-{n}", material=draw(amounts()), material_gaps=draw(_seldom_unpriced()))
             for n in range(draw(st.integers(1, 5)))]
    nodes.append(Node("breakdown", "seamed", (Edge(0, Fraction(1)),), draw(amounts(2)), draw(amounts())))
    pool = len(nodes) - 1
    nodes += [Node("cut", f"cut-{n}", (Edge(pool, draw(factors())),)) for n in range(draw(st.integers(1, 3)))]
    for kind, most in (("recipe", 4), ("dish", 4)):
        below = [index for index, node in enumerate(nodes) if node.kind not in ("breakdown", "dish")]
        for n in range(draw(st.integers(1, most))):
            edges = tuple(Edge(draw(st.sampled_from(below)), draw(factors())) for _ in range(draw(st.integers(0, 4))))
            scale = draw(st.sampled_from([Fraction(1), Fraction(102, 100)])) if kind == "dish" else Fraction(1)
            nodes.append(Node(kind, f"{kind}-{n}", edges, labour=draw(amounts()), material_scale=scale))
            below += [len(nodes) - 1] if kind == "recipe" else []
    return Network(tuple(nodes), {node.key: index for index, node in enumerate(nodes)})


def _seldom_unpriced() -> st.SearchStrategy[tuple[Gap, ...]]:
    return st.sampled_from([(), (), (), (Gap("no_price", "ingredient", "good", "It has no price: record one."),)])
