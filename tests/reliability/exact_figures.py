"""T02 over HTTP: what a running service publishes for random kitchens equals a second program in fractions, digit by
digit.

Kitchens of tests/kitchens.py are recorded over HTTP, each under codes of its own, with the settings that all share;
the judge (tests/judge.py), which shares no code with the service but the record types, says what every cut, recipe and
dish should be published with. A kitchen of which a request is refused, since something is missing in it, is left out.
Every tenth kitchen is a plain one, whose dishes cost exactly half a last digit more often than not. A case is a
kitchen.
"""

import random
import re
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from typing import Any

import requests
from hypothesis import HealthCheck, Phase, given, seed, settings

from service.domain.dish import Dish
from service.domain.history import Mark
from service.domain.kitchen import KitchenOnDay
from service.domain.kitchen_settings import KitchenSettings
from service.domain.price import Price
from service.domain.recipe import Line
from service.use_cases.documents import document, plain
from tests.builders import a_kitchen, a_primal
from tests.integrations.workbook.judged import judged
from tests.kitchens import DAY, SUPPLIERS, kitchens
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.served import served

SHARED = KitchenSettings(
    currency="GBP", default_tax_rate_percent=Decimal("17.5"), menu_prices_include_tax=True,
    labour_rate_per_hour=Decimal("13.37"), default_target_food_cost_percent=Decimal("28.5"), price_step=Decimal("0.05"))
DRAWN_AT_ONCE = 20
LISTS = {"cut": "cut-costs", "recipe": "recipe-costs", "dish": "dish-costs"}
_CODE = re.compile(r"\b(ingredient|breakdown|recipe|dish)-(\d)")
Request = tuple[str, str, dict[str, Any]]


def exact_figures(run: Run) -> Verdict:
    """Record `run.cases` kitchens, then read every list once."""
    faults: list[str] = []
    tried = 0
    with served(run.database_url, run.folder, run.sabotage) as service, requests.Session() as session:
        session.headers["Authorization"] = f"Bearer {service.a_key('admin')}"
        for method, path, body in _first_requests():
            _answer(session, service.address, method, path, body).raise_for_status()
        recorded = {}
        for number, drawn in enumerate(_drawn(run)):
            if not run.in_time:
                break
            kitchen, tried = replace(_plain_prices(drawn), settings=SHARED), number + 1
            came = [_answer(session, service.address, *_named(number, each)) for each in _requests(kitchen)]
            faults += [f"kitchen {number + 1}: {answer.text[:200]}" for answer in came if answer.status_code >= 500]
            if all(answer.status_code in (200, 201) for answer in came):
                recorded[number] = kitchen
        published = {kind: _all_rows(session, service.address, name, kind) for kind, name in LISTS.items()}
    figures = 0
    for number, kitchen in recorded.items():
        for key, expected in judged(kitchen).items():
            kind, code = key.split()
            row = published[kind].get(_prefixed(number, code), {})
            figures += len(expected)
            faults += [f"kitchen {number + 1}: {key}: {name} is {row.get(name)!r}, exactly {value!r}"
                       for name, value in expected.items() if row.get(name, "missing") != value]
    return Verdict(len(recorded), tuple(faults[:20]), {
        "figures held": figures, "wrong": len(faults), "kitchens left out": tried - len(recorded)})


def _drawn(run: Run) -> Iterator[KitchenOnDay]:
    """Kitchens, a few at a time: to draw a thousand takes longer than a short run has."""
    chance = random.Random(run.seed)
    for start in range(0, run.cases, DRAWN_AT_ONCE):
        for place, kitchen in enumerate(_some(run.seed + start, min(DRAWN_AT_ONCE, run.cases - start))):
            yield _of_ties(chance) if place % 10 == 0 else kitchen


def _some(by: int, many: int) -> list[KitchenOnDay]:
    found: list[KitchenOnDay] = []

    @seed(by)
    @settings(max_examples=many, database=None, deadline=None, phases=[Phase.generate],
              suppress_health_check=list(HealthCheck))
    @given(kitchens())
    def draw(kitchen: KitchenOnDay) -> None:
        found.append(kitchen)

    draw()
    return found


def _of_ties(chance: random.Random) -> KitchenOnDay:
    """One ingredient at an odd number of cents, and dishes of a few odd grams of it: products with five decimals that
    end in 5, which is a tie at the four that are published."""
    price = Price("ingredient-0", "fenmoor", Decimal(10 * chance.randrange(100, 400) + 5).scaleb(-2), Decimal(1), "kg",
                  DAY, None, "", Mark(1, 1))
    dishes = [Dish(f"dish-{number}", "Tie", Decimal(1), (Line(Decimal(2 * chance.randrange(500) + 1).scaleb(-3), "kg",
                                                              ingredient="ingredient-0"),)) for number in range(12)]
    return a_kitchen(a_primal("ingredient-0"), price, *dishes, day=DAY)


def _plain_prices(kitchen: KitchenOnDay) -> KitchenOnDay:
    """Without what was taken back, and with prices in the order in which they will be recorded."""
    return replace(
        kitchen,
        prices={code: tuple(sorted((price for price in prices if price.withdrawn is None), key=lambda p: p.made))
                for code, prices in kitchen.prices.items()},
        yield_tests={code: tuple(test for test in tests if test.set_aside is None and {
            each.cut for each in test.outputs} == {each.cut for each in kitchen.breakdowns[code].outputs})
            for code, tests in kitchen.yield_tests.items()})


def _first_requests() -> Iterator[Request]:
    yield "PUT", "settings", document(SHARED) | {"effective_from": "2020-01-01"}
    for supplier in SUPPLIERS:
        yield "PUT", f"suppliers/{supplier}", {"name": supplier}


def _requests(kitchen: KitchenOnDay) -> Iterator[Request]:
    """What records the kitchen, in an order in which nothing is named before it is there."""
    for code, ingredient in kitchen.ingredients.items():
        yield "PUT", f"ingredients/{code}", document(ingredient)
        for price in kitchen.prices.get(code, ()):
            yield "POST", f"ingredients/{code}/prices", {
                "supplier": price.supplier, "amount": plain(price.amount), "pack_quantity": plain(price.pack_quantity),
                "pack_unit": price.pack_unit, "effective_from": price.effective_from.isoformat(),
                "effective_to": price.effective_to and price.effective_to.isoformat()}
    for code, breakdown in kitchen.breakdowns.items():
        yield "PUT", f"breakdowns/{code}", document(breakdown)
        for test in kitchen.yield_tests.get(code, ()):
            yield "POST", f"breakdowns/{code}/yield-tests", {
                "tested_on": test.tested_on.isoformat(), "unit": test.unit, "input_weight": plain(test.input_weight),
                "outputs": [document(each) for each in test.outputs]}
    for kind, records in (("recipes", kitchen.recipes), ("dishes", kitchen.dishes)):
        for code, record in records.items():
            yield "PUT", f"{kind}/{code}", document(record)


def _prefixed(number: int, text: str) -> str:
    return _CODE.sub(rf"k{number}-\1-\2", text)


def _named(number: int, asked: Request) -> Request:
    """The request with the codes of one kitchen."""
    def renamed(value: Any) -> Any:
        if isinstance(value, dict):
            return {name: renamed(each) for name, each in value.items()}
        if isinstance(value, list):
            return [renamed(each) for each in value]
        return _prefixed(number, value) if isinstance(value, str) else value

    return asked[0], _prefixed(number, asked[1]), renamed(asked[2])


def _answer(session: requests.Session, address: str, method: str, path: str, body: dict[str, Any]
            ) -> requests.Response:
    return session.request(method, f"{address}/v1/{path}", json=body, timeout=60)


def _all_rows(session: requests.Session, address: str, name: str, kind: str) -> dict[str, Any]:
    rows: dict[str, Any] = {}
    cursor = ""
    while True:
        answer = session.get(f"{address}/v1/{name}?limit=1000&as_of={DAY}{cursor}", timeout=120)
        answer.raise_for_status()
        page = answer.json()
        rows |= {row[kind]: row for row in page["data"]}
        if page["next_cursor"] is None:
            return rows
        cursor = f"&cursor={page['next_cursor']}"


PROGRAMME = Programme(
    "exact_figures", "T02", "what is published equals exact arithmetic", "kitchens", 20, 1_000, exact_figures,
    sabotages=("float_rounding",))
