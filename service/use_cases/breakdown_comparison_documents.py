"""The comparison of a breakdown as it goes out: money, yields and shares to 4 decimals, null where not known."""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from service.domain.break_or_buy import BreakOrBuy, Finishing, Verdict, finishing_of
from service.domain.breakdown import Breakdown
from service.domain.breakdown_pools import InputCost, Pools
from service.domain.breakdown_value import BreakdownValue, UsedOutput
from service.domain.cascade import in_order
from service.domain.comparison_of_breakdowns import SideOfBreakdown
from service.domain.comparison_of_methods import CutUnderMethod, UnderMethod
from service.domain.exact_sums import less, times
from service.domain.network import NIL
from service.domain.publication import cost_in_words, share_in_words
from service.domain.yields import Yields
from service.use_cases.cost_rows import finding_documents, gap_documents
from service.use_cases.documents import Document


def head_of(breakdown: Breakdown, yields: Yields, paid: InputCost, pools: Pools) -> Document:
    """What is compared, what a kg of its input costs, and what is to be shared of it."""
    source = breakdown.input
    return {
        "breakdown": breakdown.code, "name": breakdown.name, "in_use": breakdown.in_use,
        "input": {"ingredient": source.ingredient} if source.ingredient is not None else {"cut": source.cut},
        "method": breakdown.method.value, "yield_basis": yields.basis,
        "input_cost": {
            "basis": paid.basis, "material_cost_per_kg": cost_in_words(paid.material),
            "labour_cost_per_kg": cost_in_words(paid.labour), "cost_per_kg": cost_in_words(paid.cost),
            "gaps": gap_documents(paid.gaps)},
        "pools": {"material_per_kg_of_input": cost_in_words(pools.material),
                  "labour_per_kg_of_input": cost_in_words(pools.labour)},
    }


def method_documents(breakdown: Breakdown, methods: Sequence[UnderMethod]) -> list[Document]:
    """Every method, the one in force marked."""
    return [{
        "method": under.method.value, "in_force": under.method is breakdown.method,
        "cost_per_kg_of_input": cost_in_words(under.cost_per_kg_of_input),
        "cuts": [_cut(cut) for cut in under.cuts], "gaps": gap_documents(under.gaps),
        "findings": finding_documents(under.findings),
    } for under in methods]


def side_documents(sides: Sequence[SideOfBreakdown]) -> list[Document]:
    """Every breakdown of the input, per kg of it; the one that is compared comes first."""
    return [{
        "breakdown": side.breakdown.code, "name": side.breakdown.name, "in_use": side.breakdown.in_use,
        "yield_basis": side.yields.basis, **_parts(side.value),
        "margin_before_labour": cost_in_words(side.margin_before_labour),
        "margin_after_labour": cost_in_words(side.margin_after_labour),
        "after_labour_against_the_first": cost_in_words(less(side.value.after_labour, sides[0].value.after_labour)),
        "gives_also": list(side.gives_also), "does_not_give": list(side.does_not_give),
        "outputs": [_output(output) | {"kg_per_kg_of_input": cost_in_words(output.comes_off)}
                    for output in side.value.outputs],
        "gaps": gap_documents(side.value.gaps),
    } for side in sides]


def break_or_buy_document(compared: BreakOrBuy) -> Document:
    """So much input against buying what is used of it; without what comes of nothing known."""
    value, paid = compared.value, compared.input_cost
    return {
        "input_kg": cost_in_words(value.input_kg), "basis": paid.basis,
        "buying": cost_in_words(value.cuts),
        "input_material_cost": cost_in_words(times(paid.material, value.input_kg)),
        "input_labour_cost": cost_in_words(times(paid.labour, value.input_kg)),
        **_parts(value),
        "with_labour": _verdict(compared.with_labour), "without_labour": _verdict(compared.without_labour),
        "lost_to_what_is_not_used": cost_in_words(value.lost),
        "not_used_kg": cost_in_words(sum((output.not_used for output in value.outputs), NIL)),
        "outputs": [_output(output) | {
            "comes_off_kg": cost_in_words(output.comes_off), "used_kg": cost_in_words(output.used),
            "not_used_kg": cost_in_words(output.not_used), "lost": cost_in_words(output.lost)}
            for output in value.outputs],
        "gaps": gap_documents(in_order({*value.gaps, *paid.gaps})),
    }


def finishing_documents(value: BreakdownValue) -> list[Document]:
    """Every output that is finished further: whether that pays."""
    return [_finishing(one) for one in finishing_of(value)]


def _cut(cut: CutUnderMethod) -> Document:
    output = cut.output
    return {
        "cut": output.cut, "name": output.name, "role": output.role.value, "yield": share_in_words(cut.yield_fraction),
        "share_of_joint_cost": share_in_words(cut.share), "material_cost_per_kg": cost_in_words(cut.material),
        "labour_cost_per_kg": cost_in_words(cut.labour), "cost_per_kg": cost_in_words(cut.cost),
        "market_value": _words(output.market_value), "dearer_than_buying": cut.dearer_than_buying,
    }


def _parts(value: BreakdownValue) -> Document:
    return {
        "cuts": cost_in_words(value.cuts), "credits": cost_in_words(value.credits),
        "packaging": cost_in_words(value.packaging), "disposal": cost_in_words(value.disposal),
        "finishing": cost_in_words(value.finishing), "labour": cost_in_words(value.labour),
        "value_before_labour": cost_in_words(value.before_labour),
        "value_after_labour": cost_in_words(value.after_labour),
    }


def _output(output: UsedOutput) -> dict[str, Any]:
    record = output.output
    return {"cut": record.cut, "name": record.name, "role": record.role.value,
            "value_per_kg": cost_in_words(output.value_per_kg),
            "value": cost_in_words(output.value)}


def _verdict(verdict: Verdict) -> Document:
    return {"breaking": cost_in_words(verdict.breaking), "saved": cost_in_words(verdict.saved),
            "cheaper": None if verdict.cheaper is None else verdict.cheaper.value,
            "stops_paying_at": cost_in_words(verdict.stops_paying_at)}


def _finishing(one: Finishing) -> Document:
    output = one.output
    return {
        "cut": output.cut, "name": output.name, "quantity_kg": cost_in_words(one.quantity_kg),
        "market_value": _words(output.market_value), "finishing_cost": _words(output.finishing_cost),
        "split_off_value": _words(output.split_off_value), "gain_per_kg": cost_in_words(one.gain_per_kg),
        "gain": cost_in_words(one.gain), "worth_finishing": one.worth_finishing, "gaps": gap_documents(one.gaps),
    }


def _words(value: Decimal | None) -> str | None:
    return None if value is None else cost_in_words(Fraction(value))
