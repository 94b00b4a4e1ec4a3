"""A ramp's steps against a snapshot of each: the very same digits."""

from decimal import Decimal
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.domain.kitchen import KitchenOnDay
from service.domain.scenario import PriceMove, kitchen_under
from service.use_cases.figures_under import snapshot_under
from service.use_cases.position import Position
from service.use_cases.ramp_figures import ramp_columns
from service.use_cases.snapshot import Snapshot
from tests.kitchens import kitchens
from tests.recorded import recorded

PERCENTS = [Decimal(percent) for percent in ("-20", "-7.5", "0", "12", "33.333333", "900")]


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(kitchens(), st.data())
def test_each_step_of_a_ramp_publishes_what_a_snapshot_of_it_does(kitchen: KitchenOnDay, data: Any) -> None:
    named = frozenset(data.draw(st.sets(st.sampled_from(sorted(kitchen.ingredients)))))
    before = Snapshot.of(Position(1, "0" * 64, kitchen.day), recorded(kitchen), None)
    moves = [[PriceMove(percent, kitchen.day, ingredients=named)] for percent in PERCENTS]
    ramp = ramp_columns(before, [kitchen_under(before.recorded, move).on(kitchen.day) for move in moves])
    assert [step.rows() for step in ramp.whole()] == [snapshot_under(before, move).columns().rows() for move in moves]
