"""The bounds: 20 levels, 100 lines a record, 2 000 records below; each up to its limit and one beyond."""

import time

import pytest

from service.domain.bounds import check_bounds, check_lines
from service.domain.errors import LimitPassed
from service.domain.uses import Uses

Chain = dict[tuple[str, str], tuple[tuple[str, str], ...]]


def nested(levels: int) -> Chain:
    """Recipe 1 uses an ingredient, each other recipe the one before it, a dish the last."""
    uses: Chain = {("recipe", "1"): (("ingredient", "water"),)}
    uses.update((("recipe", str(n)), (("recipe", str(n - 1)),)) for n in range(2, levels + 1))
    uses["dish", "top"] = (("recipe", str(levels)),)
    return uses


def broad(records: int) -> Chain:
    """A dish on recipes of 90 ingredients each, so many records in all."""
    uses: Chain = {}
    while len(uses) * 91 < records:
        number = min(90, records - len(uses) * 91 - 1)
        uses["recipe", str(len(uses))] = tuple(("ingredient", f"{len(uses)}-{n}") for n in range(number))
    return {**uses, ("dish", "top"): tuple(uses)}


def test_twenty_levels_stand_and_twenty_one_do_not() -> None:
    check_bounds(nested(20), [("recipe", "1")])
    with pytest.raises(LimitPassed) as refused:
        check_bounds(nested(21), [("recipe", "1")])
    assert refused.value.more["limit"] == "levels"
    assert refused.value.more["record"] == "21"


def test_a_breakdown_and_its_cut_are_one_level() -> None:
    uses: Chain = {**nested(19), ("recipe", "1"): (("cut", "cap"),), ("cut", "cap"): (("breakdown", "seamed"),),
                   ("breakdown", "seamed"): (("ingredient", "topside"),)}
    check_bounds(uses, [("breakdown", "seamed")])
    with pytest.raises(LimitPassed):
        check_bounds({**uses, **nested(20), ("recipe", "1"): (("cut", "cap"),)}, [("breakdown", "seamed")])


def test_two_thousand_records_below_a_dish_stand_and_one_more_does_not() -> None:
    check_bounds(broad(2000), [("dish", "top")])
    with pytest.raises(LimitPassed) as refused:
        check_bounds(broad(2001), [("recipe", "3")])
    assert refused.value.more == {
        "limit": "records_below", "at_most": 2000, "found": 2001, "kind": "dish", "record": "top"}


def test_a_record_used_twice_counts_once() -> None:
    uses: Chain = {**broad(1999), ("recipe", "again"): (("ingredient", "0-0"), ("ingredient", "0-1"))}
    uses["dish", "top"] += (("recipe", "again"), ("recipe", "again"))
    check_bounds(uses, [("recipe", "again")])
    uses["recipe", "again"] += (("ingredient", "one-more"),)
    with pytest.raises(LimitPassed):
        check_bounds(uses, [("recipe", "again")])


def test_only_what_stands_on_the_change_is_looked_at() -> None:
    uses: Uses = {**nested(25), ("dish", "other"): (("ingredient", "salt"),)}
    check_bounds(uses, [("dish", "other")])
    with pytest.raises(LimitPassed):
        check_bounds(uses, [("recipe", "3")])


def test_a_hundred_lines_stand_and_one_more_does_not() -> None:
    check_lines(["line"] * 100)
    with pytest.raises(LimitPassed) as refused:
        check_lines(["line"] * 101)
    assert refused.value.pointer == "#/lines"


def test_a_lattice_is_no_slower_than_its_size() -> None:
    """Nineteen levels of a hundred recipes that all use all below: 100 ** 18 ways, 190 000 lines."""
    uses: Chain = {("recipe", f"{level}-{n}"): tuple(("recipe", f"{level - 1}-{m}") for m in range(100))
                   for level in range(2, 20) for n in range(100)}
    uses.update((("recipe", f"1-{n}"), (("ingredient", "water"),)) for n in range(100))
    started = time.process_time()
    check_bounds(uses, [("recipe", "1-0")])
    assert time.process_time() - started < 5
