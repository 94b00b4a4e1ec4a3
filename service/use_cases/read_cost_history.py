"""Read how the cost of a dish moved over a year, and how it will by what is recorded already."""

from collections.abc import Sequence
from datetime import date, timedelta

from service.domain.cost_history import CostPoint, cost_history
from service.domain.errors import NotFound
from service.domain.menu import DishFigures
from service.domain.publication import cost_in_words
from service.use_cases.cause_words import CauseWords
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot

BACK, AHEAD = timedelta(days=365), timedelta(days=60)
MOST_POINTS = 200
_TOLD = ("food_cost", "food_cost_percent", "target_food_cost_percent", "menu_price", "gross_profit", "within_target")


def read_cost_history(snapshot: Snapshot, code: str) -> Document:
    """The points of a dish's history, the earliest first: from a year before the day to sixty days after.

    Raises:  NotFound when no such dish stands on the snapshot's day.
    Shape:   a point holds until the next; `cost_at_target` is what the dish may cost at most, its target times its
             price before tax; members of a point are None while the dish is not on the menu.
    """
    if code not in snapshot.kitchen.dishes:
        raise NotFound(f"There is no dish {code!r} on {snapshot.position.day}.")
    day = snapshot.position.day
    last = day + AHEAD
    points = cost_history(snapshot.recorded, code, day - BACK, last, MOST_POINTS)
    while len(points) > 1 and points[0].figures is None:
        points = points[1:]
    documents = [_point(point) for point in points]
    return {"from": documents[0]["day"], "to": last.isoformat(), "day": day.isoformat(), "points": documents,
            "in_words": _in_words(documents, day.isoformat())}


def _point(point: CostPoint) -> Document:
    told = {} if point.figures is None else point.figures.as_published()
    return {"day": point.day.isoformat()} | {name: told.get(name) for name in _TOLD} | {
        "cost_at_target": _cost_at_target(point.figures), "causes": CauseWords(*point.kitchens).of(point.causes)}


def _cost_at_target(figures: DishFigures | None) -> str | None:
    if figures is None or figures.price_before_tax is None:
        return None
    return cost_in_words(figures.price_before_tax * figures.terms.target)


def _in_words(points: Sequence[Document], today: str) -> str:
    """What the line shows, for who does not see it."""
    known = [point for point in points if point["food_cost"] is not None]
    past, coming = [p for p in known if p["day"] <= today], [p for p in known if p["day"] > today]
    if not past:
        return "The food cost is not known on any day so far."
    first, last = past[0], past[-1]
    if first is last:
        told = f"The food cost is {last['food_cost']} since {_day(last)}."
    else:
        told = (f"The food cost went from {first['food_cost']} on {_day(first)} to {last['food_cost']} since "
                f"{_day(last)}, in {len(past) - 1} step{'s' * (len(past) > 2)}.")
    if coming:
        told += f" By what is recorded already it will be {coming[-1]['food_cost']} from {_day(coming[-1])} on."
    return told


def _day(point: Document) -> str:
    return date.fromisoformat(point["day"]).strftime("%-d %b %Y")
