"""What a piece gives of a cut in whole portions, what the tail weighs, and what a portion costs with it and without."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.breakdown import BreakdownInput
from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.cut_figures import CutSheet
from service.domain.kitchen import KitchenOnDay
from service.domain.portions import Pieces, PortionFigures, portion_figures, whole_portions
from tests.builders import (
    a_breakdown,
    a_conversion,
    a_kitchen,
    a_main,
    a_price,
    a_primal,
    a_seamed_topside,
    a_yield_test,
    some_settings,
)

EACH = (a_conversion("each", "8.4", "kg"),)


def portions(kitchen: KitchenOnDay, cut: str) -> PortionFigures:
    return portion_figures(CutSheet(kitchen, cascade(compile_network(kitchen))).figures(cut), Pieces(kitchen))


def a_plain_kitchen(
    *more: object, conversions: tuple[object, ...] = EACH, portion: str | None = "0.267"
) -> KitchenOnDay:
    """A topside of 8.4 kg at 10.00 a kg: a tenth is cap, by weight 10.00 a kg, in portions of 267 g."""
    facts = {} if portion is None else {"portion_weight_kg": portion}
    breakdown = a_breakdown(a_main("topside-cap", "0.1", **facts), a_main("topside-roast", "0.9"))
    return a_kitchen(a_primal(conversions=conversions), a_price("10"), breakdown, *more)


def test_a_piece_is_portioned_and_its_tail_weighed() -> None:
    """0.84 kg of cap in portions of 0.267 kg: three, which weigh 0.801, and 0.039 left. 8.40 over three is 2.80."""
    assert portions(a_plain_kitchen(), "topside-cap").as_published() == {
        "piece_weight_kg": "8.4000", "piece_weight_basis": "conversion", "kg_per_piece": "0.8400",
        "portions_per_piece": 3, "tail_kg": "0.0390", "cost_per_portion": "2.6700",
        "cost_per_portion_tail_lost": "2.8000"}


def test_the_tests_that_count_weigh_the_piece_before_the_conversion_does() -> None:
    """8.6 kg in one piece and 16.9 in two are 8.5 a piece."""
    weights = {"topside-cap": "0.8", "topside-roast": "7"}
    kitchen = a_plain_kitchen(a_yield_test("8.6", weights), a_yield_test("16.9", weights, pieces=2))
    found = portions(kitchen, "topside-cap")
    assert (found.piece.weight_kg, found.piece.basis, found.piece.tests) == (Fraction("8.5"), "yield_tests", 2)


def test_a_cut_that_is_broken_down_again_is_followed_down_the_chain() -> None:
    """8.4 kg x 0.1 x 0.64 is 0.5376 kg of steak a topside: three of 170 g and 27.6 g."""
    again = a_breakdown(a_main("cap-steak", "0.64", portion_weight_kg="0.17"), a_main("cap-strips", "0.36"),
                        code="cap-trimmed", input=BreakdownInput(cut="topside-cap"))
    found = portions(a_plain_kitchen(again), "cap-steak")
    assert (found.weight_kg, found.portions, found.tail_kg) == (Fraction("0.5376"), 3, Fraction("0.0276"))
    assert found.piece.ingredient == "beef-topside"


def test_a_test_of_a_later_breakdown_does_not_weigh_the_piece_bought() -> None:
    again = a_breakdown(a_main("cap-steak", "1"), code="cap-trimmed", input=BreakdownInput(cut="topside-cap"))
    kitchen = a_plain_kitchen(again, a_yield_test("0.8", {"cap-steak": "0.8"}, breakdown="cap-trimmed"))
    assert Pieces(kitchen).of(kitchen.breakdowns["cap-trimmed"]).weight_kg == Fraction("8.4")


@pytest.mark.parametrize("kitchen", [
    a_plain_kitchen(conversions=()),
    a_plain_kitchen(portion=None),
    a_kitchen(a_breakdown(a_main("topside-cap", "1", portion_weight_kg="0.2"), input=BreakdownInput(cut="nothing"))),
])
def test_whole_portions_are_not_guessed(kitchen: KitchenOnDay) -> None:
    found = portions(kitchen, "topside-cap")
    assert (found.portions, found.tail_kg, found.cost_tail_lost) == (None, None, None)


def test_a_cut_too_small_for_one_portion_is_all_tail() -> None:
    found = portions(a_plain_kitchen(portion="0.9"), "topside-cap")
    assert (found.portions, found.tail_kg, found.cost_tail_lost) == (0, Fraction("0.84"), None)


def test_without_a_labour_rate_there_are_portions_and_no_cost() -> None:
    seamed = a_seamed_topside(a_main("topside-cap", "0.1", "16", portion_weight_kg="0.267"))
    found = portions(a_kitchen(a_primal(conversions=EACH), a_price(), seamed,
                               settings=some_settings(labour_rate_per_hour=None)), "topside-cap")
    assert (found.portions, found.cost_tail_used, found.cost_tail_lost) == (3, None, None)


@given(st.decimals("0.001", "90", places=3), st.decimals("0.001", "9", places=3))
def test_portions_and_tail_make_up_the_whole_and_the_tail_is_no_portion(weight: Decimal, portion: Decimal) -> None:
    whole, tail = whole_portions(Fraction(weight), Fraction(portion))
    assert whole * Fraction(portion) + tail == Fraction(weight)
    assert 0 <= tail < Fraction(portion)
