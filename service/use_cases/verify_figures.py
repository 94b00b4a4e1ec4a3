"""Recompute what is published: every dish's figures by the exact cascade, against the sweep that answers are made of.

Two ways to the same digits that share no arithmetic: rationals node by node here, floats with bounds level by level
there. Margin alerts, which are stored, are held to the figures of the place that they name.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.kitchen import Kitchen
from service.domain.margin_alert import MarginAlert
from service.domain.menu import dish_figures
from service.domain.target_crossing import Crossing
from service.use_cases.cost_rows import rows_of_today
from service.use_cases.documents import Document
from service.use_cases.margin_alerts_port import AlertsAsked
from service.use_cases.ports import Ledger
from service.use_cases.position import Position
from service.use_cases.snapshot import Snapshot

EARLIER, ALERTS = 4, 50
"""How many earlier heads, evenly spread, and how many of the newest alerts are looked at."""
_WITHIN = {Crossing.OUTSIDE: False, Crossing.BACK_WITHIN: True, Crossing.LEFT_MENU: None}


@dataclass(frozen=True, slots=True)
class WrongFigure:
    """A figure that is not what recomputing gives."""

    revision: int
    day: date
    dish: str
    detail: str


def wrong_figures(ledger: Ledger, progress: Callable[[int], None] = lambda _dishes: None) -> Iterator[WrongFigure]:
    """Hold the head's figures, those of some earlier heads, and the newest alerts to what recomputing gives.

    Shape:   `progress` is told how many dishes were recomputed so far.
    """
    done = 0
    for revision, day in _places(ledger):
        kitchen = ledger.kitchen(revision)
        exact = exact_rows(kitchen, day)
        yield from _differing(Position(revision, "", day), kitchen, exact)
        done += len(exact)
        progress(done)
    yield from _wrong_alerts(ledger)


def exact_rows(kitchen: Kitchen, day: date) -> dict[str, Document]:
    """What every dish publishes, by the exact cascade of a network compiled anew."""
    standing = kitchen.on(day)
    costing = cascade(compile_network(standing))
    rows = {}
    for code, dish in standing.dishes.items():
        figures = costing.figures(("dish", code))
        rows[code] = dish_figures(
            dish, standing.settings, figures.material, figures.labour, figures.known_material).as_published()
    return rows


def _places(ledger: Ledger) -> list[tuple[int, date]]:
    """The head today, and some earlier revisions that moved a figure, each on its own day."""
    head = ledger.head()
    places = [(head.figures_revision, ledger.today())]
    for part in range(1, EARLIER + 1):
        after = head.figures_revision * part // (EARLIER + 1)
        found = [(one.number, one.on_date) for one in ledger.figure_revisions(after, 1)]
        places += [place for place in found if place[0] < head.figures_revision and place not in places]
    return places


def _differing(position: Position, kitchen: Kitchen, exact: dict[str, Document]) -> Iterator[WrongFigure]:
    swept = {str(row["dish"]): row for row in rows_of_today(Snapshot.of(position, kitchen, None))}
    for code in sorted(exact.keys() | swept.keys()):
        row, again = swept.get(code), exact.get(code)
        if row is None or again is None:
            detail = f"it is {'not ' if row is None else ''}published and {'not ' if again is None else ''}on the menu"
            yield WrongFigure(position.revision, position.day, code, detail)
            continue
        for name in again.keys() & row.keys():
            if row[name] != again[name]:
                yield WrongFigure(position.revision, position.day, code,
                                  f"{name} is published as {row[name]} and recomputed as {again[name]}")


def _wrong_alerts(ledger: Ledger) -> Iterator[WrongFigure]:
    alerts = ledger.margin_alerts.page(AlertsAsked(), 2**62, ALERTS)
    for place, those in _by_place(alerts):
        kitchen = ledger.kitchen(place[0])
        exact, dishes = exact_rows(kitchen, place[1]), kitchen.on(place[1]).dishes
        for alert in those:
            row = exact.get(alert.dish)
            within = None if row is None else row["within_target"]
            if within is not _WITHIN[alert.crossed] or (alert.crossed is Crossing.LEFT_MENU) != (row is None):
                yield WrongFigure(*place, alert.dish, f"margin alert {alert.id} says {alert.crossed.value}, and "
                                  f"within_target is recomputed as {within}")
            told = alert.told["after"] or {}
            for name, value in (row or {}).items():
                if name in told and told[name] != value:
                    yield WrongFigure(*place, alert.dish, f"margin alert {alert.id} tells {name} as {told[name]}, and "
                                      f"it is recomputed as {value}")
            if alert.dish in dishes and dishes[alert.dish].section != alert.section:
                yield WrongFigure(*place, alert.dish, f"margin alert {alert.id} is of section {alert.section!r}, and "
                                  f"the dish of {dishes[alert.dish].section!r}")


def _by_place(alerts: Iterable[MarginAlert]) -> list[tuple[tuple[int, date], list[MarginAlert]]]:
    places: dict[tuple[int, date], list[MarginAlert]] = {}
    for alert in alerts:
        places.setdefault((alert.place.revision, alert.place.day), []).append(alert)
    return sorted(places.items(), key=lambda one: one[0])
