"""An invented catalogue of any size, as a network: goods and primals, pools, cuts broken down again, nested recipes,
dishes. Every tenth dish is plain (round weights of bought goods), where real rounding ties are.

Seeded, so that a run can be repeated. Prices are whole cents and come apart from the network: a benchmark changes all
of them in every round.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from random import Random

from service.domain.dish import Dish
from service.domain.kitchen_settings import KitchenSettings
from service.domain.network import Edge, Network, Node

SETTINGS = KitchenSettings(currency="GBP", default_tax_rate_percent=Decimal(20), price_step=Decimal("0.05"))
DEPTHS = ((1, 50), (2, 25), (3, 15), (4, 10))
OUTPUTS = 4


@dataclass(frozen=True)
class Catalogue:
    """A network whose ingredients have the prices of `cents(0)`, and the dishes behind its dish nodes."""

    network: Network
    dishes: dict[str, Dish]
    goods: int

    def cents(self, round_: int) -> list[int]:
        """Every ingredient's price in cents, in one round: all of them anew in each."""
        chance = Random(1_000 + round_)
        return [chance.randint(50, 4_000) for _ in range(self.goods)]


class Draft:
    """Nodes as they are drawn, a child always before its parents."""

    def __init__(self, dishes: int, seed: int) -> None:
        self.chance = Random(seed)
        self.count = dishes
        self.nodes: list[Node] = []
        self.cuts: list[int] = []
        self.recipes: dict[int, list[int]] = {}

    def add(self, kind: str, edges: list[Edge], labour: Fraction = Fraction(0), credit: Fraction = Fraction(0),
            scale: Fraction = Fraction(1)) -> int:
        code = f"{kind}-{len(self.nodes)}"
        self.nodes.append(Node(kind, code, tuple(edges), -credit, labour, material_scale=scale))
        return len(self.nodes) - 1

    def break_down(self, bought: int) -> list[int]:
        """A pool and its cuts: half of them by weight, half by value; some with a by-product's credit."""
        yields = [self.chance.randint(100, 240) for _ in range(OUTPUTS)]
        values = yields if self.chance.random() < 0.4 else [y * self.chance.randint(4, 40) for y in yields]
        credit = Fraction(self.chance.randint(1, 20), 100) if self.chance.random() < 0.3 else Fraction(0)
        pool = self.add("breakdown", [Edge(bought, Fraction(1))], Fraction(self.chance.randint(10, 90), 100), credit)
        return [self.add("cut", [Edge(pool, Fraction(value * 1000, sum(values) * part))])
                for value, part in zip(values, yields, strict=True)]

    def line(self, child: int, per: Fraction, least: int, most: int) -> Edge:
        """Some grams of the child, half of the time after a preparation loss, in `per` of what is made."""
        left = 1000 if self.chance.random() < 0.5 else self.chance.randint(550, 999)
        return Edge(child, Fraction(self.chance.randint(least, most) * 5, left) / per)

    def bought(self) -> int:
        return self.chance.randrange(self.count)

    def recipe(self, depth: int) -> int:
        children = [self.chance.choice(self.recipes[depth - 1]),
                    self.chance.choice(self.recipes[self.chance.randint(1, depth - 1)])] if depth > 1 else []
        while len(children) < 8:
            children.append(self.chance.choice(self.cuts) if self.chance.random() < 0.15 else self.bought())
        made = Fraction(self.chance.randint(20, 120) * 50, 1000)
        return self.add("recipe", [self.line(child, made, 10, 400) for child in children],
                        Fraction(self.chance.randint(0, 400), 100))

    def dish(self, plain: bool) -> int:
        if plain:
            lines = [Edge(self.bought(), Fraction(self.chance.randint(4, 60) * 5, 1000))
                     for _ in range(self.chance.randint(1, 3))]
            return self.add("dish", lines)
        everything = self.recipes[0]
        children = [self.chance.choice(everything) if (drawn := self.chance.random()) < 0.3
                    else self.chance.choice(self.cuts) if drawn < 0.5 else self.bought()
                    for _ in range(self.chance.randint(6, 11))]
        return self.add("dish", [self.line(child, Fraction(1), 2, 59) for child in children],
                        Fraction(self.chance.randint(20, 300), 100), scale=Fraction(102, 100))


def a_catalogue(dishes: int, seed: int = 7) -> Catalogue:
    """A catalogue with so many dishes, as many goods, and a tenth as many primals among them."""
    draft = Draft(dishes, seed)
    for _ in range(dishes):
        draft.add("ingredient", [])
    primals = max(1, dishes // 10)
    first = [cut for primal in range(primals) for cut in draft.break_down(primal)]
    again = set(draft.chance.sample(first, max(1, primals // 2)))
    second = [cut for bought in sorted(again) for cut in draft.break_down(bought)]
    draft.cuts = [cut for cut in first if cut not in again] + second
    for depth, percent in DEPTHS:
        draft.recipes[depth] = [draft.recipe(depth) for _ in range(max(1, dishes * 6 // 10 * percent // 100))]
    draft.recipes[0] = [recipe for depth, _ in DEPTHS for recipe in draft.recipes[depth]]
    for number in range(dishes):
        draft.dish(plain=number % 10 == 0)
    return _priced(draft, dishes)


def _priced(draft: Draft, goods: int) -> Catalogue:
    cents = Catalogue(Network((), {}), {}, goods).cents(0)
    nodes = [Node("ingredient", node.code, material=Fraction(cents[at], 100)) if at < goods else node
             for at, node in enumerate(draft.nodes)]
    menu = {node.code: Dish(node.code, f"Dish {node.code}", Decimal(1), (),
                            menu_price=Decimal(draft.chance.randint(12, 90)) / 2)
            for node in nodes if node.kind == "dish"}
    return Catalogue(Network(tuple(nodes), {node.key: at for at, node in enumerate(nodes)}), menu, goods)
