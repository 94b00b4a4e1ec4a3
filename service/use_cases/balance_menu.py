"""Balance a menu: what so many covers need of every cut, what must be bought for it, and what of it nobody eats.

Nothing is stored. Covers that come from sales count all that was served, comps and staff meals too: they were eaten.
"""

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from service.domain.breakdown import Role
from service.domain.breakdown_balance import BreakdownBalance, OutputBalance
from service.domain.cascade import in_order
from service.domain.menu_balance import DishCovered, MenuBalance, menu_balance
from service.domain.menu_needs import BoughtAsSuch
from service.domain.publication import cost_in_words, percent_in_words, share_in_words, total
from service.use_cases.cost_rows import finding_documents, gap_documents
from service.use_cases.covers_asked import Covers
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot
from service.use_cases.theoretical_food_cost_rows import portions_in_words


@dataclass(frozen=True, slots=True)
class BalanceAsked:
    """Which covers, whether primals are bought by whole pieces, and the revision as known at which this is found."""

    covers: Covers
    revision: int
    whole_pieces: bool = True


def balance_menu(snapshot: Snapshot, asked: BalanceAsked) -> Document:
    """The balance on the snapshot's day; what was sold and is not on that day's menu is told apart."""
    menu, covers = snapshot.kitchen.dishes, asked.covers
    planned = {code: quantity for code, quantity in covers.by_dish.items() if code in menu}
    found = menu_balance(snapshot.kitchen, snapshot.costing, planned, asked.whole_pieces)
    gaps = in_order(covers.gaps.union(found.gaps))
    return {
        "as_of": snapshot.position.day.isoformat(), "revision": asked.revision, "currency": found.currency,
        "status": "incomplete" if gaps else "complete", "gaps": gap_documents(gaps),
        "findings": finding_documents(found.findings), "covers_from": covers.source, "sales_days": covers.days,
        "not_on_menu": [{"dish": code, "quantity": portions_in_words(quantity)}
                        for code, quantity in covers.by_dish.items() if code not in menu],
        "without_dish": [{"pos_code": code, "quantity": portions_in_words(quantity)}
                         for code, quantity in covers.without_dish.items()],
        "total": _total(found), "dishes": [_dish(dish) for dish in found.dishes],
        "breakdowns": [_breakdown(each) for each in found.breakdowns],
        "ingredients": [_ingredient(each) for each in found.ingredients]}


def _total(found: MenuBalance) -> Document:
    return {
        "covers": portions_in_words(sum((dish.quantity for dish in found.dishes), Fraction(0))),
        **_figures(
            takings=found.takings, food_cost=found.food_cost, allowance=found.allowance,
            ingredients_cost=found.ingredients_cost, primals_cost=found.primals_cost,
            packaging_and_disposal=found.charges, short_value=found.short_value, outlay=found.outlay,
            used_value=found.used_value,
            left_over_value=found.left_over_value, left_over_market_value=found.left_over_market_value,
            main_left_value=found.left_value(Role.MAIN), trim_left_value=found.left_value(Role.TRIM),
            by_products_left_value=found.left_value(Role.BY_PRODUCT)),
        "left_over_percent": percent_in_words(found.left_over_percent),
        "food_cost_percent": percent_in_words(found.food_cost_percent),
        "outlay_percent": percent_in_words(found.outlay_percent)}


def _dish(dish: DishCovered) -> Document:
    figures = dish.figures.as_published()
    return {"dish": figures["dish"], "name": figures["name"], "quantity": portions_in_words(dish.quantity),
            "food_cost": figures["food_cost"], "food_cost_percent": figures["food_cost_percent"],
            "within_target": figures["within_target"],
            **_figures(total_food_cost=dish.food_cost, takings=dish.takings)}


def _breakdown(each: BreakdownBalance) -> Document:
    source = each.breakdown.input
    return {
        "breakdown": each.breakdown.code, "name": each.breakdown.name,
        "input": {"ingredient": source.ingredient} if source.ingredient is not None else {"cut": source.cut},
        "status": "complete" if each.known else "incomplete", "yield_basis": each.yields.basis,
        "binding": [out.output.cut for out in each.binding], "needed_input_kg": cost_in_words(
            each.needed_input if each.known else None), "known_needed_input_kg": cost_in_words(each.needed_input),
        "pieces": each.pieces, "piece_weight_kg": cost_in_words(each.piece.weight_kg if _starts(each) else None),
        "piece_weight_basis": each.piece.basis if _starts(each) else None,
        **_figures(
            input_kg=each.input_kg, used_kg=each.used_kg, left_kg=each.left_kg, loss_kg=each.loss_kg,
            unaccounted_kg=each.unaccounted_kg, input_cost=each.input_cost, packaging_and_disposal=each.charges,
            used_value=each.used_value, left_over_value=each.left_value(Role.MAIN, Role.TRIM),
            left_over_market_value=each.left_market_value(Role.MAIN, Role.TRIM),
            by_products_left_value=each.left_value(Role.BY_PRODUCT)),
        "outputs": [_output(out) for out in each.outputs]}


def _starts(each: BreakdownBalance) -> bool:
    """Whether it takes what is bought: what a cut weighs is no piece to buy."""
    return each.breakdown.input.ingredient is not None


def _output(each: OutputBalance) -> Document:
    output, need = each.output, each.need
    return {
        "cut": output.cut, "name": output.name, "role": output.role.value, "binds": each.binds,
        "yield": share_in_words(each.yield_fraction), "left_percent": percent_in_words(each.left_percent),
        "left_portions": each.left_portions,
        **_figures(
            needed_kg=need.kg if need.known else None, known_needed_kg=need.kg, broken_down_kg=need.broken_down,
            input_needed_kg=each.input_needed if need.known else None, comes_off_kg=each.comes_off,
            used_kg=each.used, left_kg=each.left, short_kg=each.short,
            material_cost_per_kg=each.material_per_kg, cost_per_kg=total(each.material_per_kg, each.labour_per_kg),
            used_value=each.used_value, left_value=each.left_value, left_cost=each.left_cost,
            left_market_value=each.left_market_value)}


def _ingredient(each: BoughtAsSuch) -> Document:
    return {"ingredient": each.ingredient.code, "name": each.ingredient.name, "unit": each.ingredient.base_unit,
            **_figures(quantity=each.quantity if each.known else None, known_quantity=each.quantity,
                     unit_price=each.unit_price, cost=each.cost)}


def _figures(**figures: Any) -> Document:
    """Money and weights: 4 decimals, each rounded once."""
    return {name: cost_in_words(value) for name, value in figures.items()}
