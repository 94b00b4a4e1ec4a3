"""The first sheet of a workbook: the kitchen's settings to change, what the copy is of, and how to read it; and the
sheet behind its chart, which ranks dishes by how far their food cost is above its target."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from fractions import Fraction

from service.domain.currency import smallest_step
from service.domain.live_table import FIRST_ROW, Band, Cell, Column, Entry, Form, Given, Label, Live, Number, Table
from service.domain.workbook_formulas import choice
from service.domain.workbook_names import (
    DEFAULT_TARGET,
    DEFAULT_TAX,
    LABOUR_RATE,
    PRICE_STEP,
    PRICES_INCLUDE_TAX,
    section_target,
)
from service.domain.workbook_source import WorkbookSource

RANKED = 30
"""How many dishes the chart has room for."""

_NOTES = (
    ("Yellow cells", "are made to be changed: a price, a yield, a value, a weight, a menu price. Every figure that "
     "rests on them moves at once, on this sheet and on all others. Nothing is protected."),
    ("A copy", "This file is not connected to the service. What is changed here is recorded nowhere; what is recorded "
     "later is not here."),
    ("Standard costs", "These are costs by recipe at the prices in force, not what was spent: actual use, waste, "
     "spoilage and stock are not in them."),
    ("Not known: #N/A", "is not zero. Nothing that rests on an unknown has a number. The column Missing "
     "says what to record; an empty yellow cell can be filled in to try."),
    ("Rounding", "Each figure that the service publishes is rounded once, from one that is not rounded, half away "
     "from zero. So sums of rounded figures may differ in the last digit."),
    ("Names", "Formulas use names, such as labour_rate, or price_ and cut_material_ followed by a code: the list of "
     "names of your program leads to each."),
)


def front_table(source: WorkbookSource, revision: int, day: date, names: dict[str, str]) -> Table:
    """Settings, facts and notes; each setting gets its name."""
    settings = source.kitchen.settings
    table = Table("About", "Menu costs", f"As of {day.isoformat()}, as known at revision {revision}; all money in "
                  f"{settings.currency}.", (
                      Column("what", "", Form.TEXT, Band.NAMES, 30), Column("value", "", Form.NUMBER, Band.ENTRIES, 14),
                      Column("words", "", Form.LONG_TEXT, Band.NAMES, 92)), fixed=0)
    step = smallest_step(settings.currency) if settings.price_step is None else settings.price_step
    for name, what, entry, words in (
            (LABOUR_RATE, "Labour rate per hour", Entry(settings.labour_rate_per_hour),
             "Fully loaded. Every minute of breakdowns, recipes and dishes is costed at it."),
            (DEFAULT_TAX, "Tax %", Entry(settings.default_tax_rate_percent), "Of dishes without a rate of their own."),
            (PRICES_INCLUDE_TAX, "Menu prices include tax", Entry(choice(settings.menu_prices_include_tax),
                                                                  (choice(True), choice(False))), "yes or no."),
            (DEFAULT_TARGET, "Target food cost %", Entry(settings.default_target_food_cost_percent),
             "Of dishes without a target of their own or of their section."),
            *_section_targets(source),
            (PRICE_STEP, "Menu prices go in steps of", Entry(step), "Target menu prices are rounded up to it.")):
        names[name] = table.address("value", table.add({"what": Label(what), "value": entry, "words": Label(words)}))
    table.add({})
    for heading, text in _NOTES:
        table.add({"what": Label(heading), "value": Label(""), "words": Label(text)})
    return table


def _section_targets(source: WorkbookSource) -> Iterator[tuple[str, str, Cell, str]]:
    """A setting for each target of a section that dishes are shown of."""
    shown = {dish.section for dish in source.dishes}
    for place, one in enumerate(source.kitchen.settings.section_targets):
        if one.section in shown:
            yield (section_target(place), f"Target food cost %, {one.section}", Entry(one.target_food_cost_percent),
                   "Of its dishes without a target of their own; empty: that of all others.")


def ranking_table(dishes: Table) -> Table:
    """The dishes furthest above their target, and their food cost beside it. Live: another price, another order."""
    table = Table("Chart", "Food cost against target", "The dishes furthest above their target come first.", _RANKING,
                  fixed=0)
    last = dishes.next_row - 1
    ranked = _ranked(dishes)
    for rank in range(1, min(RANKED, len(dishes.rows)) + 1):
        table.add(_rank(dishes, last, rank, ranked[rank - 1] if rank <= len(ranked) else None))
    return table


_RANKING: Sequence[Column] = (
    Column("rank", "Rank", Form.NUMBER, Band.NAMES, 6),
    Column("dish", "Dish", Form.TEXT, Band.NAMES, 30),
    Column("within", "Within target, %", Form.PERCENT, Band.NAMES, 11),
    Column("above", "Above target, %", Form.PERCENT, Band.NAMES, 11),
    Column("target", "Target, %", Form.PERCENT, Band.NAMES, 11),
    Column("row", "Row", Form.NUMBER, Band.NAMES, 6),
)


def _ranked(dishes: Table) -> list[int]:
    """The places of the dishes whose percent is known, the furthest above target first."""
    over = [(cell.value, place) for place, row in enumerate(dishes.rows)
            if isinstance(cell := row["over_target"], Live) and isinstance(cell.value, Fraction)]
    return [place for _, place in sorted(over, reverse=True)]


def _rank(dishes: Table, last: int, rank: int, place: int | None) -> dict[str, Cell]:
    def column(key: str) -> str:
        return dishes.span(key, FIRST_ROW, last)

    found = f"MATCH(LARGE({column('over_target')},{rank}),{column('over_target')},0)"
    within, percent = f"INDEX({column('within')},{{row}})", f"INDEX({column('food_cost_percent')},{{row}})"
    row = {} if place is None else dishes.rows[place]
    is_within = _value(row, "within") == choice(True)
    told = _value(row, "food_cost_percent")
    return {
        "rank": Given(Fraction(rank)),
        "row": Live(f"IFERROR({found},NA())", None if place is None else Fraction(place + 1)),
        "dish": Live(f'IFERROR(INDEX({column("name")},{{row}}),"")', _name(row)),
        "within": Live(f'IF({within}="{choice(True)}",{percent},NA())', told if is_within else None),
        "above": Live(f'IF({within}="{choice(False)}",{percent},NA())', None if is_within else told),
        "target": Live(f"INDEX({column('target_percent')},{{row}})", _value(row, "target_percent"))}


def _value(row: Mapping[str, Cell], key: str) -> Number | str | None:
    cell = row.get(key)
    return cell.value if isinstance(cell, Live) else None


def _name(row: Mapping[str, Cell]) -> str:
    cell = row.get("name")
    return cell.text if isinstance(cell, Label) else ""
