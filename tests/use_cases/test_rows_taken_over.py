"""Rows taken over from the snapshot before equal those made from nothing; what nothing moved is the very same row."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.domain.kitchen import KitchenOnDay
from service.domain.scenario import PriceMove, kitchen_under
from service.use_cases.cost_rows import dish_rows
from service.use_cases.figures_under import moved_between, snapshot_under
from service.use_cases.position import Position
from service.use_cases.rows_moved import moved_cuts, moved_recipes
from service.use_cases.snapshot import Snapshot
from tests.builders import A_DAY, a_dish, a_kitchen, a_line, a_price, an_ingredient
from tests.domain.test_recompile import CHANGES, one_less
from tests.kitchens import kitchens
from tests.recorded import recorded


def at(kitchen: KitchenOnDay, revision: int, like: Snapshot | None = None) -> Snapshot:
    return Snapshot.of(Position(revision, "0" * 64, kitchen.day), recorded(kitchen), like)


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(kitchens(), st.permutations(CHANGES), st.data())
def test_rows_after_any_change_equal_those_made_from_nothing(
        kitchen: KitchenOnDay, changes: list[Any], data: Any) -> None:
    snapshot = at(kitchen, 1)
    for revision, change in enumerate(changes, start=2):
        dish_rows(snapshot)
        dish_rows(snapshot, costs_only=True)
        other = change(data.draw, kitchen)
        after, anew = at(other, revision, snapshot), at(other, revision)
        assert dish_rows(after) == dish_rows(anew)
        assert dish_rows(after, costs_only=True) == dish_rows(anew, costs_only=True)
        assert moved_cuts(snapshot, after) == moved_cuts(snapshot, anew)
        assert moved_recipes(snapshot, after) == moved_recipes(snapshot, anew)
        if change is not one_less:
            snapshot, kitchen = after, other


def two_dishes() -> Snapshot:
    beef, salt = a_price("14.20", ingredient="beef"), a_price("1.00", ingredient="salt")
    return at(a_kitchen(an_ingredient("beef"), an_ingredient("salt"), beef, salt,
                        a_dish("roast", a_line("ingredient beef", "0.3")),
                        a_dish("broth", a_line("ingredient salt", "0.01")), day=A_DAY), 1)


def test_what_nothing_moved_keeps_its_row() -> None:
    before = two_dishes()
    broth, roast = dish_rows(before)
    after = snapshot_under(before, [PriceMove(Decimal(12), A_DAY, ingredients=frozenset(["beef"]))])
    assert dish_rows(after)[0] is broth
    assert dish_rows(after)[1] != roast
    assert [(dish.code, dish.before) for dish in moved_between(before, after)] == [("roast", roast)]


def test_at_another_revision_a_row_says_where_it_stands_now() -> None:
    before = two_dishes()
    broth, _ = dish_rows(before)
    under = kitchen_under(before.recorded, [PriceMove(Decimal(12), A_DAY, ingredients=frozenset(["beef"]))])
    after = Snapshot.of(replace(before.position, revision=2), under, before)
    assert dish_rows(after)[0] == {**broth, "revision": 2}
    assert dish_rows(before)[0] == {**broth, "revision": 1}
