"""How much of a cut one portion of each dish takes, as purchased, through its lines and its recipes.

Rules that always hold: exact; by lines and recipes alone, not through a further breakdown of the cut; the allowance of
a dish is on its cost and on no kilogram; a line that cannot be converted counts nothing.
"""

from fractions import Fraction
from heapq import heappop, heappush

from service.domain.network import NIL, ONE, Network

_TAKE_LINES = ("recipe", "dish")


def kg_in_dishes(cut: str, network: Network) -> dict[str, Fraction]:
    """Kg of the cut in a portion of every dish that takes any, by code: a forward pass over what stands above it.

    Example: 0.2 kg in a litre of sauce of which a dish takes 0.1 l is 0.02 kg.
    """
    nodes, start = network.nodes, network.index.get(("cut", cut))
    if start is None:
        return {}
    users = network.users.of(nodes)
    amounts: dict[int, Fraction] = {start: ONE}
    waiting, found = [start], {}
    while waiting:
        index = heappop(waiting)
        amount = amounts.pop(index)
        if nodes[index].kind == "dish":
            found[nodes[index].code] = amount
        for user in dict.fromkeys(users[index]):
            taken = sum((edge.factor for edge in nodes[user].edges if edge.child == index), NIL)
            if nodes[user].kind in _TAKE_LINES and taken:
                if user not in amounts:
                    heappush(waiting, user)
                amounts[user] = amounts.get(user, NIL) + taken * amount
    return dict(sorted(found.items()))
