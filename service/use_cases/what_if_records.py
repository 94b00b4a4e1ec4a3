"""The records that a what-if supposes: breakdowns, recipes and dishes as they would be kept, one version each.

Rules that always hold: however many changes name a record, it changes once, by all of them in their order; each is
held to what keeping the record would be held to, and each fault points at the change that is wrong; yields that are
not named stay as they are that day, to the 6 decimals that a record holds.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from service.domain.balance import check_breakdown
from service.domain.breakdown import Breakdown, YieldsFrom
from service.domain.currency import minor_unit
from service.domain.dish import Dish
from service.domain.errors import Fault, LimitPassed, OutputTwice, UnknownReference, WrongValue, YieldsAboveOne
from service.domain.kitchen import PLURALS, KitchenOnDay
from service.domain.menu import terms_of
from service.domain.network import Key
from service.domain.recipe import Line
from service.domain.rounding import text
from service.domain.scenario import NewVersion
from service.domain.yields import yields_of
from service.use_cases.kept_kinds import finer_than
from service.use_cases.what_if_asked import (
    MenuPricesMove,
    OtherMenuPrice,
    OtherMethod,
    OtherPortions,
    OtherYields,
    Supposition,
    Swap,
)
from service.use_cases.what_if_prices import MOST_LOOKED_AT, MOST_MONEY, too_many_looked_at

MILLION = 10**6
HALF = Fraction(1, 2)


class SupposedRecords:
    """The records of a kitchen on a day as a supposition would have them, and what is wrong with it."""

    def __init__(self, kitchen: KitchenOnDay, day: date) -> None:
        self._kitchen, self._day = kitchen, day
        self._drafts: dict[Key, Any] = {}
        self.faults: list[Fault] = []
        self.swapped: dict[Key, dict[int, str]] = {}
        """By record, the lines that were swapped and the pointer of the swap."""

    def take(self, asked: Supposition) -> None:
        """Take in all changes of records."""
        for place, yields in enumerate(asked.yields):
            self._take_yields(yields, f"#/yields/{place}")
        for place, method in enumerate(asked.methods):
            self._take_method(method, f"#/methods/{place}")
        self._take_menu_prices(asked)
        for place, portions in enumerate(asked.portions):
            self._take_portions(portions, f"#/portions/{place}")
        for place, swap in enumerate(asked.swaps):
            self._take_swap(swap, f"#/swaps/{place}")

    def versions(self) -> list[NewVersion]:
        """Each record that changes, in the order in which it was first named."""
        return [NewVersion(kind, code, record, self._day) for (kind, code), record in self._drafts.items()]

    def _record(self, kind: str, code: str, pointer: str) -> Any:
        """The record as supposed so far; None, and a fault, when it does not stand."""
        standing: Mapping[str, Any] = getattr(self._kitchen, PLURALS[kind])
        if code not in standing:
            self.faults.append(UnknownReference(
                f"There is no {kind} {code!r} on {self._day}; correct its code, or ask as of a day on which it "
                "stands.", pointer))
            return None
        return self._drafts.get((kind, code), standing[code])

    def _take_yields(self, asked: OtherYields, pointer: str) -> None:
        breakdown: Breakdown | None = self._record("breakdown", asked.breakdown, f"{pointer}/breakdown")
        if breakdown is None:
            return
        before = len(self.faults)
        given: dict[str, Decimal] = {}
        for place, each in enumerate(asked.yields):
            at = f"{pointer}/yields/{place}/cut"
            if breakdown.output(each.cut) is None:
                self.faults.append(UnknownReference(
                    f"{asked.breakdown} has no output {each.cut!r}: its outputs are "
                    f"{', '.join(output.cut for output in breakdown.outputs)}.", at))
            elif each.cut in given:
                self.faults.append(OutputTwice(f"{each.cut} is listed twice: keep one.", at, cut=each.cut))
            given[each.cut] = each.yield_fraction
        if len(self.faults) > before:
            return
        today = yields_of(breakdown, self._kitchen.yield_tests.get(asked.breakdown, ()), self._day).fractions
        outputs = tuple(replace(output, expected_yield=given.get(output.cut, _recorded(today[output.cut])))
                        for output in breakdown.outputs)
        supposed = replace(breakdown, outputs=outputs, yields_from=YieldsFrom.DECLARED)
        self.faults += [_as_supposed(fault, given, supposed).at(f"{pointer}/yields")
                        for fault in check_breakdown(supposed) if (fault.pointer or "").startswith("#/outputs")][:1]
        self._drafts["breakdown", asked.breakdown] = supposed

    def _take_method(self, asked: OtherMethod, pointer: str) -> None:
        breakdown = self._record("breakdown", asked.breakdown, f"{pointer}/breakdown")
        if breakdown is not None:
            self._drafts["breakdown", asked.breakdown] = replace(breakdown, method=asked.method)

    def _take_menu_prices(self, asked: Supposition) -> None:
        looked_at = sum(len(price.dishes) or len(self._kitchen.dishes) for price in asked.menu_prices
                        if isinstance(price, MenuPricesMove))
        if looked_at > MOST_LOOKED_AT:
            self.faults.append(too_many_looked_at("dishes", "#/menu_prices"))
            return
        for place, price in enumerate(asked.menu_prices):
            if isinstance(price, OtherMenuPrice):
                self._take_menu_price(price, f"#/menu_prices/{place}")
            else:
                self._move_menu_prices(price, f"#/menu_prices/{place}")

    def _take_menu_price(self, asked: OtherMenuPrice, pointer: str) -> None:
        dish = self._record("dish", asked.dish, f"{pointer}/dish")
        if dish is None:
            return
        places = minor_unit(self._kitchen.settings.currency)
        if finer_than(asked.menu_price, places):
            self.faults.append(WrongValue(
                f"A menu price in {self._kitchen.settings.currency} has at most {places} decimals.",
                f"{pointer}/menu_price"))
        self._drafts["dish", asked.dish] = replace(dish, menu_price=asked.menu_price)

    def _move_menu_prices(self, asked: MenuPricesMove, pointer: str) -> None:
        for place, code in enumerate(asked.dishes):
            self._record("dish", code, f"{pointer}/dishes/{place}")
        sections = {dish.section for dish in self._kitchen.dishes.values()}
        self.faults += [
            WrongValue(f"No dish on the menu of {self._day} stands in the section {section!r}: there are "
                       f"{', '.join(map(repr, sorted(sections)))}.", f"{pointer}/sections/{place}")
            for place, section in enumerate(asked.sections) if section not in sections]
        named = self._kitchen.dishes.keys() & asked.dishes if asked.dishes else self._kitchen.dishes
        for code in sorted(named):
            dish = self._kitchen.dishes[code]
            if not asked.sections or dish.section in asked.sections:
                self._move_menu_price(self._drafts.get(("dish", code), dish), asked.percent, pointer)

    def _move_menu_price(self, dish: Dish, percent: Decimal, pointer: str) -> None:
        if dish.menu_price is None:
            return
        step = terms_of(dish, self._kitchen.settings).step
        steps = (Fraction(dish.menu_price) * (1 + Fraction(percent) / 100) / step + HALF) // 1
        price = _recorded(steps * step)
        if price >= MOST_MONEY:
            self.faults.append(LimitPassed(
                "A menu price would pass what can be recorded, 12 digits before the point: give a smaller percentage.",
                f"{pointer}/percent", limit="price_digits", at_most=12))
        self._drafts["dish", dish.code] = replace(dish, menu_price=price)

    def _take_portions(self, asked: OtherPortions, pointer: str) -> None:
        dish = self._record("dish", asked.dish, f"{pointer}/dish")
        if dish is not None:
            self._drafts["dish", asked.dish] = replace(dish, portions=asked.portions)

    def _take_swap(self, asked: Swap, pointer: str) -> None:
        kind, code = asked.owner
        record = self._record(kind, code, f"{pointer}/{kind}")
        if record is None:
            return
        places = [place for place, line in enumerate(record.lines) if line.uses == asked.uses]
        if not places:
            self.faults.append(WrongValue(
                f"No line of {code} uses the {asked.uses[0]} {asked.uses[1]!r}: its lines use "
                f"{_named(record.lines)}.", f"{pointer}/uses"))
            return
        lines = tuple(_swapped(line, asked) if place in places else line for place, line in enumerate(record.lines))
        self._drafts[kind, code] = replace(record, lines=lines)
        self.swapped.setdefault((kind, code), {}).update(dict.fromkeys(places, pointer))


def _swapped(line: Line, swap: Swap) -> Line:
    """The line with what it uses exchanged; its preparation and cooking yields stay."""
    kind, code = swap.instead
    quantity, unit = (line.quantity, line.unit) if swap.quantity is None else (swap.quantity, swap.unit or line.unit)
    uses: dict[str, Any] = {"ingredient": None, "cut": None, "recipe": None} | {kind: code}
    return replace(line, quantity=quantity, unit=unit, **uses)


def _as_supposed(fault: Fault, given: Collection[str], supposed: Breakdown) -> Fault:
    """Of yields above 1 in sum, which of them nobody named: tests on a scale within its tolerance may outweigh."""
    kept = [f"{output.cut} {text(output.expected_yield)}" for output in supposed.outputs if output.cut not in given]
    if not isinstance(fault, YieldsAboveOne) or not kept:
        return fault
    return YieldsAboveOne(f"With outputs that are not named kept as they are ({', '.join(kept)}) the yields come to "
                          f"{fault.more['sum']}: more than goes in. At most 1 in sum: name a lower one of those too.",
                          **fault.more)


def _recorded(value: Fraction) -> Decimal:
    """A number as a record can hold it: what passes its 6 decimals is cut off, so that parts never pass their whole."""
    return Decimal(f"{value * MILLION // 1}E-6")


def _named(lines: Iterable[Line]) -> str:
    return ", ".join(dict.fromkeys(f"{kind} {code!r}" for kind, code in (line.uses for line in lines))) or "nothing"
