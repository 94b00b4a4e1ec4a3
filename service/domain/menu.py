"""The menu: what a dish earns, from its food cost and its menu price.

    price before tax = menu price / (1 + tax rate), or the menu price itself where menu prices exclude tax
    food-cost %      = food cost / price before tax
    gross profit     = price before tax - food cost        (before labour)
    target price     = food cost / target food cost x (1 + tax rate), rounded up to the price step

Rules that always hold: every published figure is rounded once from the exact one; a comparison with the target is one
of published figures; what rests on an unknown food cost is None, never zero; a menu price of zero has no percentages.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Any

from service.domain.currency import minor_unit, smallest_step
from service.domain.dish import Dish
from service.domain.findings import Finding
from service.domain.kitchen_settings import KitchenSettings
from service.domain.publication import cost_in_words, in_words, percent_in_words
from service.domain.rounding import PERCENT_PLACES, published, rounded_up_to


class TargetBasis(StrEnum):
    """Whose target a dish is held to: its own, that of its section, or the house's."""

    DISH = "dish"
    SECTION = "section"
    HOUSE = "house"


@dataclass(frozen=True, slots=True)
class Terms:
    """What a dish is sold on: its own tax rate and target, or the kitchen's. Fractions, not percents.

    Units: `tax` is what is added to the price before tax; nil where menu prices exclude it.
    """

    tax_rate: Fraction
    tax: Fraction
    target: Fraction
    target_basis: TargetBasis
    step: Fraction
    places: int


@dataclass(frozen=True, slots=True)
class DishFigures:
    """What a portion of a dish costs and earns, exactly. None is not known, or has no meaning.

    Units: money per portion in `currency`; `food_cost_percent` and `gross_profit_percent` are percents.
    """

    dish: Dish
    currency: str
    terms: Terms
    food_cost: Fraction | None
    labour_cost: Fraction | None
    known_food_cost: Fraction
    price_before_tax: Fraction | None
    food_cost_percent: Fraction | None
    gross_profit: Fraction | None
    gross_profit_percent: Fraction | None
    target_menu_price: Fraction | None
    within_target: bool | None
    findings: tuple[Finding, ...] = ()

    @property
    def status(self) -> str:
        """Incomplete as soon as anything that the costs rest on is missing, labour's included."""
        return "incomplete" if self.food_cost is None or self.labour_cost is None else "complete"

    def as_published(self) -> dict[str, Any]:
        """The figures as they go out: strings with their decimals, None where there is no number."""
        places = self.terms.places
        menu_price = None if self.dish.menu_price is None else Fraction(self.dish.menu_price)
        return {
            "dish": self.dish.code,
            "name": self.dish.name,
            "pos_code": self.dish.pos_code,
            "currency": self.currency,
            "status": self.status,
            "food_cost": cost_in_words(self.food_cost),
            "known_food_cost": cost_in_words(self.known_food_cost),
            "labour_cost": cost_in_words(self.labour_cost),
            "menu_price": in_words(menu_price, places),
            "tax_rate_percent": percent_in_words(self.terms.tax_rate * 100),
            "price_before_tax": cost_in_words(self.price_before_tax),
            "food_cost_percent": percent_in_words(self.food_cost_percent),
            "gross_profit": cost_in_words(self.gross_profit),
            "gross_profit_percent": percent_in_words(self.gross_profit_percent),
            "target_food_cost_percent": percent_in_words(self.terms.target * 100),
            "target_basis": self.terms.target_basis.value,
            "target_menu_price": in_words(self.target_menu_price, places),
            "within_target": self.within_target,
        }


def dish_figures(
    dish: Dish, settings: KitchenSettings, material: Fraction | None, labour: Fraction | None, known_material: Fraction
) -> DishFigures:
    """What a dish earns, from what a portion of it costs.

    Example: a food cost of 4.1898 at 22.00 with 20 % tax is 22.85 % of 18.3333, and leaves 14.1435.
    """
    terms = terms_of(dish, settings)
    before_tax = None if dish.menu_price is None else Fraction(dish.menu_price) / (1 + terms.tax)
    gross_profit = None if before_tax is None or material is None else before_tax - material
    percent = _percent_of(material, before_tax)
    return DishFigures(
        dish=dish, currency=settings.currency, terms=terms,
        food_cost=material, labour_cost=labour, known_food_cost=known_material,
        price_before_tax=before_tax,
        food_cost_percent=percent,
        gross_profit=gross_profit,
        gross_profit_percent=_percent_of(gross_profit, before_tax),
        target_menu_price=target_menu_price(material, terms),
        within_target=within_target(percent, terms),
        findings=findings_of(dish),
    )


def terms_of(dish: Dish, settings: KitchenSettings) -> Terms:
    """The dish's own tax rate, or else the kitchen's; its target food cost; the step its prices move in."""
    rate = settings.default_tax_rate_percent if dish.tax_rate_percent is None else dish.tax_rate_percent
    step = smallest_step(settings.currency) if settings.price_step is None else Fraction(settings.price_step)
    target, basis = target_percent_of(dish, settings)
    return Terms(
        tax_rate=Fraction(rate) / 100,
        tax=Fraction(rate) / 100 if settings.menu_prices_include_tax else Fraction(0),
        target=Fraction(target) / 100,
        target_basis=basis,
        step=step,
        places=minor_unit(settings.currency),
    )


def target_of(dish: Dish, settings: KitchenSettings) -> Fraction:
    """The target food cost of a dish as a fraction of the price before tax."""
    return Fraction(target_percent_of(dish, settings)[0]) / 100


def target_percent_of(dish: Dish, settings: KitchenSettings) -> tuple[Decimal, TargetBasis]:
    """The dish's own target food cost, else that of its section, else the house's; and whose it is."""
    if dish.target_food_cost_percent is not None:
        return dish.target_food_cost_percent, TargetBasis.DISH
    of_section = settings.section_target_percent(dish.section)
    if of_section is not None:
        return of_section, TargetBasis.SECTION
    return settings.default_target_food_cost_percent, TargetBasis.HOUSE


def target_menu_price(food_cost: Fraction | None, terms: Terms) -> Fraction | None:
    """The least menu price, in steps, at which the exact food cost is within the target. None for a target of zero.

    Example: 4.1898 at a target of 30 % with 20 % tax is 16.7592; in steps of 0.05 that is 16.80.
    """
    if food_cost is None or terms.target <= 0:
        return None
    return rounded_up_to(food_cost / terms.target * (1 + terms.tax), terms.step)


def within_target(food_cost_percent: Fraction | None, terms: Terms) -> bool | None:
    """Whether the published percent is at most the published target: 30.004 % against 30 % is within."""
    if food_cost_percent is None:
        return None
    return published(food_cost_percent, PERCENT_PLACES) <= published(terms.target * 100, PERCENT_PLACES)


def findings_of(dish: Dish) -> tuple[Finding, ...]:
    """What a person should look at in the dish's price; it rests on no cost."""
    if dish.menu_price is None or dish.menu_price != 0:
        return ()
    return (Finding("zero_menu_price", "dish", dish.code,
                    f"{dish.code} has a menu price of zero, so that no percentage of it can be said."),)


def _percent_of(part: Fraction | None, whole: Fraction | None) -> Fraction | None:
    return None if part is None or not whole else part / whole * 100
