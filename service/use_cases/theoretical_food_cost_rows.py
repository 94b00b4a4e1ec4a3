"""Theoretical food cost as documents: the period, its days, sections and dishes, and what no dish can be told of.

Money has 4 decimals and percentages 2, each rounded once from the exact figure, so sums of published figures may differ
in the last digit; quantities and takings are as they were sent, added up.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from service.domain.publication import cost_in_words, in_words, percent_in_words
from service.domain.sales_tally import Tally, percent_of
from service.domain.theoretical_food_cost import DishSold, TheoreticalFoodCost, Unresolved
from service.use_cases.cost_rows import gap_documents
from service.use_cases.documents import Document
from service.use_cases.read_theoretical_food_cost import Period

QUANTITY_PLACES = 6


@dataclass(frozen=True, slots=True)
class Costed:
    """A period with what its sales should have cost."""

    period: Period
    found: TheoreticalFoodCost
    currency: str


def food_cost_document(costed: Costed) -> Document:
    """The whole answer."""
    period, found = costed.period, costed.found
    return {
        "from": period.first.isoformat(), "to": period.last.isoformat(), "revision": period.revision,
        "currency": costed.currency, "status": "complete" if found.total.is_complete else "incomplete",
        "gaps": gap_documents(found.gaps), "days_without_sales": [
            day.isoformat() for day in _days(period.first, period.last) if day not in found.days],
        "total": _figures(found.total, found.total),
        "days": [{"business_date": day.isoformat(), "sales_revision": period.recorded[day].revision}
                 | _figures(tally, found.total) for day, tally in found.days.items()],
        "sections": [{"section": name} | _figures(tally, found.total) for name, tally in found.sections.items()],
        "dishes": [_dish(dish, found.total) for dish in found.dishes],
        "pos_codes_without_dish": [_code(each) for each in found.unresolved]}


def food_cost_rows(costed: Costed) -> Iterator[Document]:
    """The period, each day, section and dish, and each code without a dish, as a row of its own."""
    told = food_cost_document(costed)
    of = {name: told[name] for name in ("from", "to", "revision", "currency")}
    yield of | {"part": "total"} | told["total"]
    for part, plural in (("day", "days"), ("section", "sections"), ("dish", "dishes")):
        for row in told[plural]:
            yield of | {"part": part} | row
    for row in told["pos_codes_without_dish"]:
        yield of | {"part": "pos_code"} | row


def _figures(tally: Tally, whole: Tally) -> Document:
    """What some sales come to; `whole` is what their share in the mix is of."""
    sale, comp, staff_meal = tally.parts
    return {
        "status": "complete" if tally.is_complete else "incomplete",
        "sold": portions_in_words(sale.quantity), "comps": portions_in_words(comp.quantity),
        "staff_meals": portions_in_words(staff_meal.quantity),
        "menu_mix_percent": percent_in_words(percent_of(sale.quantity, whole.sale.quantity)),
        "net_takings": cost_in_words(sale.takings),
        "takings_share_percent": percent_in_words(percent_of(sale.takings, whole.sale.takings)),
        "food_cost": cost_in_words(sale.whole_cost), "comp_cost": cost_in_words(comp.whole_cost),
        "staff_meal_cost": cost_in_words(staff_meal.whole_cost), "total_cost": cost_in_words(tally.total_cost),
        "known_total_cost": cost_in_words(tally.known_total_cost),
        "food_cost_percent": percent_in_words(tally.food_cost_percent),
        "total_cost_percent": percent_in_words(tally.total_cost_percent),
        "target_food_cost_percent": percent_in_words(tally.target_food_cost_percent),
        "within_target": tally.within_target,
        "gross_profit": cost_in_words(tally.gross_profit),
        "gross_profit_percent": percent_in_words(tally.gross_profit_percent),
        "average_food_cost": cost_in_words(tally.average_food_cost),
        "average_gross_profit": cost_in_words(tally.average_gross_profit),
        "costed_net_takings": cost_in_words(sale.costed_takings),
        "costed_food_cost_percent": percent_in_words(tally.costed_food_cost_percent)}


def _dish(dish: DishSold, whole: Tally) -> Document:
    return {"dish": dish.code, "name": dish.name, "section": dish.section, "pos_code": dish.pos_code,
            "gaps": gap_documents(dish.gaps)} | _figures(dish.tally, whole)


def _code(each: Unresolved) -> Document:
    sale, comp, staff_meal = each.tally.parts
    return {
        "pos_code": each.pos_code, "reason": each.bearers.resolved.value, "in_figures": each.counts,
        "dishes": list(each.bearers.dishes), "first_date": each.first.isoformat(), "last_date": each.last.isoformat(),
        "sold": portions_in_words(sale.quantity), "comps": portions_in_words(comp.quantity),
        "staff_meals": portions_in_words(staff_meal.quantity), "net_takings": cost_in_words(sale.takings)}


def portions_in_words(quantity: Fraction) -> str:
    """Portions as they were sent: never more than six decimals, so nothing is rounded."""
    text = in_words(quantity, QUANTITY_PLACES) or "0"
    return text.rstrip("0").rstrip(".")


def _days(first: date, last: date) -> Iterator[date]:
    return (first + timedelta(days=number) for number in range((last - first).days + 1))
