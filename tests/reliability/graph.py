"""T08: the graph of recipes cannot hurt: no loop is ever stored, however two people race, and no shape costs much.

Races: two clients at once make each of two recipes use the other, over HTTP on two workers; one of them is refused. A
case is a race. Then shapes, once a run: a chain to the deepest level and one beyond; a lattice of two recipes a layer,
each of which uses both below, so that its ways double with every layer, built for 60 layers and refused where the depth
is passed; a record of too many lines; one ingredient that 5 000 lines use; a loop through a whole chain. What is
stored is sorted at the end by the standard library's `graphlib`, which knows a loop when it sees one.
"""

import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from graphlib import CycleError, TopologicalSorter
from typing import Any

import requests

from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.served import served

DEEPEST, MOST_LINES, LAYERS, WIDE = 20, 100, 60, 50
"""What the design allows: levels and lines; what is tried: layers of the lattice, dishes of as many lines each."""
TRIES = 5
"""How often a change is asked for while it is refused for now."""


@dataclass
class Cook:
    """A client who keeps recipes, and how long each refusal took."""

    address: str
    key: str
    session: requests.Session = field(default_factory=requests.Session)
    refusals: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def put(self, path: str, body: Any, **headers: str) -> requests.Response:
        """Ask, and again while a busy service refuses for now, which had no effect."""
        for _ in range(TRIES):
            begun = time.monotonic()
            answer = self.session.put(f"{self.address}/v1/{path}", json=body, timeout=60, headers={
                "Authorization": f"Bearer {self.key}",
                **{name.replace("_", "-"): text for name, text in headers.items()}})
            if answer.status_code != 503:
                break
        if answer.status_code == 422:
            self.refusals.append(time.monotonic() - begun)
        elif answer.status_code not in (200, 201):
            self.faults.append(f"PUT {path} was answered {answer.status_code} {answer.text[:200]}")
        return answer

    def recipe(self, code: str, *lines: dict[str, str], **headers: str) -> int:
        """Keep a recipe of a kilogram; the status of the answer."""
        return self.put(f"recipes/{code}", a_body(*lines), **headers).status_code

    def must(self, expected: int, status: int, what: str) -> None:
        if status != expected:
            self.faults.append(f"{what} was answered {status}, not {expected}")


def a_body(*lines: dict[str, str]) -> dict[str, Any]:
    return {"name": "A part", "makes_quantity": "1", "makes_unit": "kg", "lines": list(lines)}


def of(kind: str, code: str, quantity: str = "1") -> dict[str, str]:
    return {kind: code, "quantity": quantity, "unit": "kg"}


BASE = of("ingredient", "flour")


def graph(run: Run) -> Verdict:
    """Race, then build every shape."""
    with served(run.database_url, run.folder, run.sabotage) as service:
        key = service.a_key("admin")
        cooks = [Cook(service.address, key) for _ in range(2)]
        _prepare(cooks[0])
        races = _races(run, cooks)
        costs = {} if cooks[0].faults or cooks[1].faults else _shapes(cooks[0])
    faults = [fault for cook in cooks for fault in cook.faults] + _loops(run.database_url)
    refusals = [seconds for cook in cooks for seconds in cook.refusals]
    return Verdict(races, tuple(faults[:20]), {
        "refusals": len(refusals), "slowest refusal": f"{max(refusals, default=0):.2f} s", **costs})


def _prepare(cook: Cook) -> None:
    cook.put("suppliers/fenmoor", {"name": "Fenmoor"})
    cook.put("ingredients/flour", {"name": "Flour", "kind": "dry", "base_unit": "kg"})
    cook.session.post(f"{cook.address}/v1/ingredients/flour/prices", timeout=60, headers={
        "Authorization": f"Bearer {cook.key}"}, json={"supplier": "fenmoor", "amount": "1.37", "pack_quantity": "1",
                                                      "pack_unit": "kg"}).raise_for_status()


def _races(run: Run, cooks: list[Cook]) -> int:
    """Two clients close a loop at once, again and again; how often."""
    gate, rounds = threading.Barrier(2), 0
    with ThreadPoolExecutor(2) as pool:
        while rounds < run.cases and run.in_time and not any(cook.faults for cook in cooks):
            for side in "ab":
                cooks[0].must(201, cooks[0].recipe(f"race-{rounds}-{side}", BASE), "a plain recipe")

            def close(place: int, number: int = rounds) -> int:
                own, other = "ab"[place], "ba"[place]
                gate.wait(60)
                return cooks[place].recipe(f"race-{number}-{own}", of("recipe", f"race-{number}-{other}"), if_match="*")

            statuses = sorted(pool.map(close, (0, 1)))
            if statuses != [200, 422]:
                cooks[0].faults.append(f"race {rounds + 1}: two who closed a loop at once were answered {statuses}")
            rounds += 1
    return rounds


def _shapes(cook: Cook) -> dict[str, object]:
    """Build each shape; what the costs of the largest took to read."""
    cook.must(201, cook.recipe("chain-1", BASE), "the first of a chain")
    deepest = next(level for level in range(2, DEEPEST + 3)
                   if cook.recipe(f"chain-{level}", of("recipe", f"chain-{level - 1}")) == 422) - 1
    cook.must(422, cook.recipe("chain-1", of("recipe", f"chain-{deepest}"), if_match="*"), "a loop through the chain")
    cook.must(422, cook.recipe("long", *[BASE] * (MOST_LINES + 1)), "a recipe of too many lines")
    layers = _lattice(cook)
    for number in range(WIDE):
        cook.must(201, cook.put(f"dishes/wide-{number}", {
            "name": "Wide", "portions": "1", "lines": [of("ingredient", "flour", "0.01")] * MOST_LINES}).status_code,
            "a dish of a hundred lines")
    cook.must(201, cook.put("dishes/top", {
        "name": "Top", "portions": "1", "lines": [of("recipe", f"lattice-{layers}-a")]}).status_code, "a dish on top")
    begun = time.monotonic()
    answer = cook.session.get(f"{cook.address}/v1/dish-costs?limit=1000", timeout=60, headers={
        "Authorization": f"Bearer {cook.key}"})
    seconds = time.monotonic() - begun
    rows = answer.json()["data"]
    cook.faults += [f"{row['dish']} costs {row['food_cost']}, not 1.3700" for row in rows
                    if row["food_cost"] != "1.3700"]
    for what, found, expected in (("dishes are published", len(rows), WIDE + 1), ("levels are taken", deepest, DEEPEST),
                                  ("layers are taken", layers, DEEPEST)):
        if found != expected:
            cook.faults.append(f"{found} {what}, not {expected}")
    return {"levels": deepest, "layers of the lattice": layers, "costs of it all": f"{seconds:.2f} s"}


def _lattice(cook: Cook) -> int:
    """Two recipes a layer, each half of both below: every one costs what its flour costs. How many layers there are."""
    for side in "ab":
        cook.must(201, cook.recipe(f"lattice-1-{side}", BASE), "the first layer")
    for layer in range(2, LAYERS + 1):
        below = [of("recipe", f"lattice-{layer - 1}-{side}", "0.5") for side in "ab"]
        if {cook.recipe(f"lattice-{layer}-{side}", *below) for side in "ab"} == {422}:
            return layer - 1
    return LAYERS


def _loops(database_url: str) -> list[str]:
    engines = open_engines(database_url, pool_size=1)
    try:
        ledger = SqlLedger(engines)
        recipes = ledger.kitchen(ledger.head().revision).recipes
    finally:
        engines.dispose()
    uses = {code: {line.recipe for line in versions[-1].record.lines if line.recipe} for code, versions in
            recipes.items()}
    try:
        TopologicalSorter(uses).prepare()
    except CycleError as loop:
        return [f"a loop is stored: {loop.args[1]}"]
    return []


PROGRAMME = Programme(
    "graph", "T08", "no loop is stored, and no shape costs much", "races", 25, 1_000, graph,
    sabotages=("stale_decisions", "no_loop_check"))
