"""What guests chose from the menu in a period: the covers of each dish, each day's at the price and cost of that day.

Rules that always hold: comps and staff meals are no choice, so only sales count; what was taken back is taken off, and
a dish of which no more is left was not sold; only days that have sales are looked at; the days add up exactly.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from service.domain.dish import Dish
from service.domain.exact_sums import exact_sum
from service.domain.findings import Gap
from service.domain.history import recorded_last
from service.domain.kitchen import Kitchen
from service.domain.kitchen_settings import KitchenSettings
from service.domain.menu import terms_of
from service.domain.menu_engineering import DishSales
from service.domain.pos_codes import Bearers, PosCodes, Resolved
from service.domain.sales import SaleKind, SalesDay, sold_by_code
from service.domain.standing_costs import StandingCosts
from service.domain.theoretical_food_cost import code_gap, costed_days

NIL = Fraction(0)


class WhyNotCounted(StrEnum):
    """Why a dish that stood on the menu, and was not sold, is not one of its number."""

    NO_POS_CODE = "no_pos_code"
    SHARED_POS_CODE = "shared_pos_code"
    NO_MENU_PRICE = "no_menu_price"


@dataclass(frozen=True, slots=True)
class CodeSold:
    """Portions sold under a code that does not tell the dish."""

    pos_code: str
    bearers: Bearers
    covers: Fraction


@dataclass(frozen=True, slots=True)
class DishesChosen:
    """What was chosen, and what could have been.

    Shape:   `dishes`, by code: sold, or on the menu and to be seen in sales; `not_counted` are the others of the menu.
    """

    dishes: tuple[DishSales, ...]
    not_counted: Mapping[str, WhyNotCounted]
    codes: tuple[CodeSold, ...]

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """The codes of the menu that do not tell the dish."""
        return tuple(code_gap(each.pos_code, each.bearers) for each in self.codes
                     if each.bearers.resolved is not Resolved.UNKNOWN)


@dataclass(frozen=True, slots=True)
class _Portions:
    """The covers of a dish on one day, and what one is sold at and costs."""

    covers: Fraction
    price: Fraction | None
    food_cost: Fraction | None
    gaps: frozenset[Gap]


@dataclass(slots=True)
class _Gathered:
    """What the days brought so far; and of each dish the last of them on which it was on the menu."""

    sold: dict[str, list[_Portions]] = field(default_factory=dict)
    codes: dict[tuple[str, Bearers], Fraction] = field(default_factory=dict)
    last: dict[str, tuple[StandingCosts, KitchenSettings]] = field(default_factory=dict)
    before: tuple[StandingCosts, KitchenSettings] | None = None
    prices: dict[str, Fraction | None] = field(default_factory=dict)

    def stand(self, costs: StandingCosts, settings: KitchenSettings) -> None:
        """Note the dishes that are on the menu no more since the day before; prices are those of the menu before while
        it stays the very same."""
        if self.before is not None and self.before[0].kitchen.dishes is not costs.kitchen.dishes:
            gone = self.before[0].kitchen.dishes.keys() - costs.kitchen.dishes.keys()
            self.last.update(dict.fromkeys(gone, self.before))
            self.prices.clear()
        if self.before is not None and self.before[1] is not settings:
            self.prices.clear()
        self.before = (costs, settings)

    def price(self, dish: Dish, settings: KitchenSettings) -> Fraction | None:
        if dish.code not in self.prices:
            self.prices[dish.code] = _price(dish, settings)
        return self.prices[dish.code]

    def stood(self) -> Iterator[tuple[str, StandingCosts, KitchenSettings]]:
        """Every dish that was on the menu, with the costs and settings of its last day."""
        if self.before is not None:
            last = self.last | dict.fromkeys(self.before[0].kitchen.dishes, self.before)
            yield from ((code, *last[code]) for code in sorted(last))


def dishes_chosen(kitchen: Kitchen, sales: Sequence[SalesDay], section: str | None = None) -> DishesChosen:
    """What was chosen on some days, in a kitchen as known at a revision; of one section, or of all of the menu."""
    gathered, codes = _Gathered(), PosCodes(kitchen.dishes)
    for day, costs, settings in costed_days(kitchen, sorted(sales, key=lambda day: day.business_date)):
        gathered.stand(costs, settings)
        _take_day(gathered, day, costs, settings, codes)
    shared = {dish for (_, bearers), covers in gathered.codes.items() if covers
              if bearers.resolved is Resolved.SHARED for dish in bearers.dishes}
    found: list[DishSales] = []
    not_counted: dict[str, WhyNotCounted] = {}
    for code, costs, settings in gathered.stood():
        if section is not None and _section(kitchen, code) != section:
            continue
        told = _sold(code, gathered.sold.get(code, ())) or _unsold(code, costs, settings, code in shared)
        if isinstance(told, DishSales):
            found.append(told)
        else:
            not_counted[code] = told
    return DishesChosen(tuple(found), not_counted, tuple(
        CodeSold(*key, gathered.codes[key]) for key in sorted(gathered.codes, key=_by_code)
        if gathered.codes[key] and _may_be_of(kitchen, section, key[1])))


def sections_of(kitchen: Kitchen) -> list[str]:
    """The sections that the dishes name, as recorded last, by name."""
    return sorted({_section(kitchen, code) for code in kitchen.dishes})


def _section(kitchen: Kitchen, code: str) -> str:
    return recorded_last(kitchen.dishes[code]).record.section


def _may_be_of(kitchen: Kitchen, section: str | None, bearers: Bearers) -> bool:
    """Whether what a code stands for may be of a section: what no dish bears may be of any."""
    return section is None or not bearers.dishes or any(_section(kitchen, code) == section for code in bearers.dishes)


def _take_day(gathered: _Gathered, day: SalesDay, costs: StandingCosts, settings: KitchenSettings, codes: PosCodes
              ) -> None:
    for pos_code, sold in sold_by_code(day.lines).items():
        covers = sold[SaleKind.SALE].quantity if SaleKind.SALE in sold else NIL
        if not covers:
            continue
        bearers = codes.on_day(pos_code, day.business_date)
        if bearers.resolved is Resolved.DISH:
            code = bearers.dishes[0]
            price = gathered.price(costs.kitchen.dishes[code], settings)
            gathered.sold.setdefault(code, []).append(_portions(covers, code, costs, price))
        else:
            gathered.codes[pos_code, bearers] = gathered.codes.get((pos_code, bearers), NIL) + covers


def _portions(covers: Fraction, code: str, costs: StandingCosts, price: Fraction | None) -> _Portions:
    figures = costs.costing.figures(("dish", code))
    gaps = figures.material_gaps if price is not None else figures.material_gaps | {_no_menu_price(code)}
    return _Portions(covers, price, figures.material, gaps)


def _no_menu_price(code: str) -> Gap:
    return Gap("no_menu_price", "dish", code, f"The dish {code} was sold on a day on which it has no menu price: give "
               "it the price from that day on.")


def _sold(code: str, days: Sequence[_Portions]) -> DishSales | None:
    """The days together; None where no covers are left."""
    covers = exact_sum(day.covers for day in days)
    if covers <= 0:
        return None
    return DishSales(code, covers, _together([(day.covers, day.price) for day in days]),
                     _together([(day.covers, day.food_cost) for day in days]),
                     frozenset[Gap]().union(*(day.gaps for day in days)))


def _together(days: Sequence[tuple[Fraction, Fraction | None]]) -> Fraction | None:
    """The sum over the days; None while one of them is not known."""
    known = [covers * each for covers, each in days if each is not None]
    return exact_sum(known) if len(known) == len(days) else None


def _unsold(code: str, costs: StandingCosts, settings: KitchenSettings, shared: bool) -> DishSales | WhyNotCounted:
    dish = costs.kitchen.dishes[code]
    if shared:
        return WhyNotCounted.SHARED_POS_CODE
    if dish.pos_code is None:
        return WhyNotCounted.NO_POS_CODE
    if dish.menu_price is None:
        return WhyNotCounted.NO_MENU_PRICE
    figures = costs.costing.figures(("dish", code))
    return DishSales(code, NIL, _price(dish, settings), figures.material, figures.material_gaps)


def _by_code(key: tuple[str, Bearers]) -> tuple[str, str, tuple[str, ...]]:
    pos_code, bearers = key
    return pos_code, bearers.resolved, bearers.dishes


def _price(dish: Dish, settings: KitchenSettings) -> Fraction | None:
    """Of a portion, before tax."""
    return None if dish.menu_price is None else Fraction(dish.menu_price) / (1 + terms_of(dish, settings).tax)
