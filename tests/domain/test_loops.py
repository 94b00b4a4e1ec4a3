"""Loops: the way round is told, and nothing is walked twice."""

from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from service.domain.loops import find_loop, in_dependency_order, way_round

CODES = st.sampled_from("abcdefgh")
GRAPHS = st.dictionaries(CODES, st.lists(CODES, max_size=3), max_size=8)


def recipes(**uses: str) -> dict[tuple[str, str], list[tuple[str, str]]]:
    return {("recipe", user): [("recipe", used) for used in used_codes] for user, used_codes in uses.items()}


def test_a_recipe_that_uses_itself_is_a_loop_of_one() -> None:
    assert find_loop(recipes(a="a"), ("recipe", "a")) == (("recipe", "a"), ("recipe", "a"))


def test_the_way_round_five_corners_is_told_in_order() -> None:
    loop = find_loop(recipes(a="xb", b="c", c="yd", d="e", e="a"), ("recipe", "a"))
    assert loop is not None
    assert way_round(loop) == "recipe a -> recipe b -> recipe c -> recipe d -> recipe e -> recipe a"


def test_a_loop_elsewhere_is_not_this_records_fault() -> None:
    assert find_loop(recipes(a="b", b="c", c="b"), ("recipe", "a")) is None


def test_a_lattice_with_two_to_the_thousand_ways_is_walked_once() -> None:
    lattice = {("recipe", f"{n}{side}"): [("recipe", f"{n + 1}{other}") for other in "ab"]
               for n in range(1000) for side in "ab"}
    assert find_loop(lattice, ("recipe", "0a")) is None


def test_ten_thousand_corners_are_found() -> None:
    ring = {("recipe", str(n)): [("recipe", str((n + 1) % 10_000))] for n in range(10_000)}
    loop = find_loop(ring, ("recipe", "0"))
    assert loop is not None
    assert len(loop) == 10_001


@given(GRAPHS, CODES)
def test_a_loop_found_is_one_and_none_is_missed(graph: dict[str, list[str]], start: str) -> None:
    """Judge: reachability by the transitive closure of the pairs."""
    uses = {("recipe", user): [("recipe", used) for used in used_codes] for user, used_codes in graph.items()}
    reached = set(graph.get(start, ()))
    for _ in range(len(graph)):
        reached |= {used for user in reached for used in graph.get(user, ())}
    loop = find_loop(uses, ("recipe", start))
    assert (loop is not None) == (start in reached)
    if loop is not None:
        assert loop[0] == loop[-1] == ("recipe", start)
        assert all(used in uses[user] for user, used in pairwise(loop))


@given(GRAPHS)
def test_dependency_order_agrees_with_the_standard_librarys_sorter(graph: dict[str, list[str]]) -> None:
    """Judge: graphlib.TopologicalSorter says whether there is a loop at all."""
    order, loops = in_dependency_order(graph)
    assert sorted(order) == sorted(graph)
    within = {user: [used for used in used_codes if used in graph] for user, used_codes in graph.items()}
    try:
        list(TopologicalSorter(within).static_order())
    except CycleError:
        assert loops
    else:
        assert not loops
    place = {code: position for position, code in enumerate(order)}
    for user, used_codes in within.items():
        assert all(place[used] < place[user] for used in used_codes if not {user, used} <= loops)


def test_what_merely_uses_a_loop_is_not_on_it() -> None:
    order, loops = in_dependency_order({"stock": ["glaze"], "glaze": ["stock", "wine"], "gravy": ["stock"], "wine": []})
    assert loops == {"stock", "glaze"}
    assert order == ["wine", "glaze", "stock", "gravy"]
