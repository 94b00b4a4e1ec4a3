"""Theoretical food cost: what the dishes that were sold should have cost, each as of the day on which it was sold.

Rules that always hold: a portion costs what it costs on its day, so a price that moves at midnight counts from the next
day's sales on; the period is the sum of its days, and the sum of its dishes and of what no dish can be told of; a code
that no dish bears is listed apart, with its takings, and is in no figure; a code that several dishes share, or whose
dish is not on the menu that day, was food all the same, so its takings count and its cost is not known.

Source:  standard costing at actual volumes: the standard cost of what was sold, by the standards of the day.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from service.domain.cascade import NO_GAPS, Figures, in_order
from service.domain.days_of_change import days_of_change
from service.domain.findings import Gap
from service.domain.history import recorded_last
from service.domain.kitchen import Kitchen
from service.domain.kitchen_settings import KitchenSettings
from service.domain.menu import target_of
from service.domain.pos_codes import Bearers, PosCodes, Resolved
from service.domain.sales import SaleKind, SalesDay, Sold, sold_by_code
from service.domain.sales_tally import NIL, Part, Tally, added_up, tally_of
from service.domain.standing_costs import StandingCosts

ONE = Fraction(1)
NOT_KNOWN = Figures(None, None, NIL)


@dataclass(frozen=True, slots=True)
class Unresolved:
    """What was sold under a code that does not tell the dish, on the days on which it resolves so."""

    pos_code: str
    bearers: Bearers
    tally: Tally
    first: date
    last: date

    @property
    def counts(self) -> bool:
        """Whether its takings are in the figures: it is food of the menu, at a cost that is not known."""
        return self.bearers.resolved is not Resolved.UNKNOWN


@dataclass(frozen=True, slots=True)
class DishSold:
    """What was sold of one dish, and what its cost lacks on some of those days."""

    code: str
    name: str
    section: str
    pos_code: str | None
    tally: Tally
    gaps: tuple[Gap, ...]


@dataclass(frozen=True, slots=True)
class TheoreticalFoodCost:
    """The sales of some days at the cost of each day.

    Shape:   days in their order, dishes and codes by code, sections by name.
    """

    days: Mapping[date, Tally]
    sections: Mapping[str, Tally]
    dishes: tuple[DishSold, ...]
    unresolved: tuple[Unresolved, ...]
    total: Tally

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """What is missing anywhere, each once; codes included that do not tell the dish."""
        codes = [code_gap(each.pos_code, each.bearers) for each in self.unresolved if each.counts]
        return in_order({*codes, *(gap for dish in self.dishes for gap in dish.gaps)})


@dataclass(slots=True)
class _Gathered:
    """What the days brought so far, by dish, and by code and what it stands for."""

    days: dict[date, Tally] = field(default_factory=dict)
    dishes: dict[str, list[Tally]] = field(default_factory=dict)
    gaps: dict[str, frozenset[Gap]] = field(default_factory=dict)
    codes: dict[tuple[str, Bearers], list[tuple[date, Tally]]] = field(default_factory=dict)


def theoretical_food_cost(kitchen: Kitchen, sales: Sequence[SalesDay]) -> TheoreticalFoodCost:
    """What was sold on some days, in a kitchen as known at a revision."""
    gathered, codes = _Gathered(), PosCodes(kitchen.dishes)
    for day, costs, settings in costed_days(kitchen, sorted(sales, key=lambda day: day.business_date)):
        _take_day(gathered, day, costs, settings, codes)
    dishes = tuple(_dish(kitchen, code, gathered) for code in sorted(gathered.dishes))
    unresolved = tuple(_unresolved(*told) for told in sorted(
        gathered.codes.items(), key=lambda told: (told[0][0], told[1][0][0])))
    sections: dict[str, list[Tally]] = {}
    for dish in dishes:
        sections.setdefault(dish.section, []).append(dish.tally)
    return TheoreticalFoodCost(
        gathered.days, {name: added_up(sections[name]) for name in sorted(sections)}, dishes, unresolved,
        added_up([*(dish.tally for dish in dishes), *(each.tally for each in unresolved if each.counts)]))


def code_gap(pos_code: str, bearers: Bearers) -> Gap:
    """Why what was sold under a code has no cost."""
    named = ", ".join(bearers.dishes)
    if bearers.resolved is Resolved.SHARED:
        detail = f"The POS code {pos_code} is that of several dishes, {named}: give each its own."
    else:
        detail = (f"The POS code {pos_code} was sold while its dish, {named}, was not on the menu: correct the "
                  "dates of the dish, or give the code to another.")
    return Gap(f"pos_code_{bearers.resolved}", "pos_code", pos_code, detail)


def costed_days(kitchen: Kitchen, sales: Sequence[SalesDay]
                ) -> Iterator[tuple[SalesDay, StandingCosts, KitchenSettings]]:
    """Each day with its costs: those of the day before, moved on where something started or ended since."""
    changes = sorted(days_of_change(kitchen).items()) if sales else []
    costs, place = None, 0
    for day in sales:
        moved: set[str | None] = set()
        while place < len(changes) and changes[place][0] <= day.business_date:
            moved |= changes[place][1]
            place += 1
        if costs is None:
            costs = StandingCosts.on(kitchen, day.business_date)
        elif moved:
            costs = costs.moved_to(kitchen, day.business_date, moved)
        yield day, costs, kitchen.settings_on(day.business_date)


def _take_day(gathered: _Gathered, day: SalesDay, costs: StandingCosts, settings: KitchenSettings, codes: PosCodes
              ) -> None:
    counted, menu = [], costs.kitchen.dishes
    for pos_code, sold in sold_by_code(day.lines).items():
        bearers = codes.on_day(pos_code, day.business_date)
        if bearers.resolved is Resolved.DISH:
            code = bearers.dishes[0]
            figures = costs.figures(code) or NOT_KNOWN
            tally = _tally(sold, figures, target_of(menu[code], settings))
            gathered.dishes.setdefault(code, []).append(tally)
            if not tally.is_complete:
                gathered.gaps[code] = gathered.gaps.get(code, NO_GAPS) | figures.material_gaps
        else:
            tally = _tally(sold, NOT_KNOWN, None)
            gathered.codes.setdefault((pos_code, bearers), []).append((day.business_date, tally))
        if bearers.resolved is not Resolved.UNKNOWN:
            counted.append(tally)
    gathered.days[day.business_date] = added_up(counted)


def _tally(sold: Mapping[SaleKind, Sold], figures: Figures, target: Fraction | None) -> Tally:
    return tally_of({kind: _part(each, figures) for kind, each in sold.items()}, target)


def _part(sold: Sold, figures: Figures) -> Part:
    """What a quantity costs; nothing sold costs nothing, whatever a portion costs."""
    quantity, takings = sold
    if figures.material is None and quantity:
        return Part(quantity, takings, NIL, quantity * figures.known_material, NIL, ONE)
    return Part(quantity, takings, quantity * (figures.material or NIL), NIL, takings)


def _dish(kitchen: Kitchen, code: str, gathered: _Gathered) -> DishSold:
    record = recorded_last(kitchen.dishes[code]).record
    return DishSold(code, record.name, record.section, record.pos_code, added_up(gathered.dishes[code]),
                    in_order(gathered.gaps.get(code, NO_GAPS)))


def _unresolved(key: tuple[str, Bearers], sold: Sequence[tuple[date, Tally]]) -> Unresolved:
    pos_code, bearers = key
    return Unresolved(pos_code, bearers, added_up([tally for _, tally in sold]), sold[0][0], sold[-1][0])
