"""The demo kitchen: an invented bistro, as the requests that load it.

`demo/kitchen.json` beside this module holds them in loading order, in the shapes that the service takes over HTTP, so
that what loads the demo is what any client would send. One price starts in the future: its date is the only one that
depends on the day of loading, and the file has the word `next-monday` in its place. Everything in it is invented.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from importlib.resources import files
from typing import Any

NEXT_MONDAY = "next-monday"


@dataclass(frozen=True, slots=True)
class DemoRequest:
    """One request of the loading: `body` is what goes out as JSON."""

    method: str
    path: str
    body: Mapping[str, Any]


def about() -> str:
    """What the demo kitchen is, in a sentence or two that says it is invented."""
    return str(_document()["about"])


def demo_requests(loading_day: date) -> Iterator[DemoRequest]:
    """The requests that fill an empty ledger with the demo kitchen, in loading order.

    Example: loaded on Wednesday 25 November 2026, the price that starts in the future starts on 30 November.
    """
    monday = next_monday(loading_day).isoformat()
    for request in _document()["requests"]:
        body = {name: monday if value == NEXT_MONDAY else value for name, value in request["body"].items()}
        yield DemoRequest(request["method"], request["path"], body)


def next_monday(day: date) -> date:
    """The first Monday after `day`; on a Monday, that of the week after."""
    return day + timedelta(days=7 - day.weekday())


def _document() -> dict[str, Any]:
    text = files("service.cli").joinpath("demo", "kitchen.json").read_text(encoding="utf-8")
    document: dict[str, Any] = json.loads(text)
    return document
