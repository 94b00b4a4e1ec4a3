"""T07: random requests against a model of some tens of lines: every answer's status, every revision, every food cost.

In process, one request after the other. The model knows what a kitchen of a few codes holds, and works each dish out
by naive recursion in fractions; it shares no code with the service. A case is a request.
"""

import random
from fractions import Fraction
from typing import Any

from tests.judge_measures import half_up
from tests.reliability.asked_in_process import InProcess, asked_in_process
from tests.reliability.programme import Programme, Run, Verdict

CODES = {"ingredients": 4, "breakdowns": 2, "recipes": 4, "dishes": 3}
SINGULAR = {"ingredients": "ingredient", "recipes": "recipe"}
CUTS = {f"breakdowns-{number}-{part}": f"breakdowns-{number}" for number in range(2) for part in ("main", "trim")}
Body = dict[str, Any]


class Model:
    """What the kitchen should hold: records by path, each with its tag; prices by ingredient; the last revision."""

    def __init__(self, revision: int) -> None:
        self.revision = revision
        self.records: dict[str, tuple[int, Body]] = {}
        self.seen: set[str] = set()
        self.prices: dict[str, list[Fraction]] = {}

    def put(self, code: str, body: Body, condition: str | None) -> int:
        """The status that a PUT should have; the model is as it should be then."""
        there = self.records.get(code)
        if there is not None and there[1] == body:
            return 200
        if there is None and condition is not None:
            return 412
        if there is not None and condition != f'"{there[0]}"':
            return 428 if condition is None else 412
        if not all(used in self.records for used in uses(body)) or self._reaches(uses(body), code):
            return 422
        self.revision += 1
        self.records[code] = self.revision, body
        return 200 if there is not None else 201

    def delete(self, code: str, condition: str | None) -> int:
        """The status of a DELETE."""
        there = self.records.get(code)
        if there is None:
            return 404
        if condition != f'"{there[0]}"':
            return 428 if condition is None else 412
        if any(code in uses(body) for _, body in self.records.values()):
            return 409
        self.revision += 1
        del self.records[code]
        return 204

    def post_price(self, code: str, amount: Fraction) -> int:
        """The status of a POST of a price."""
        if code not in self.records:
            return 404
        self.revision += 1
        self.prices.setdefault(code, []).append(amount)
        return 201

    def food_costs(self) -> dict[str, str | None]:
        """What each dish should cost, as it is published."""
        return {code: half_up(self._total(body, body["portions"]), 4) for code, (_, body) in self.records.items()
                if code.startswith("dishes")}

    def _total(self, body: Body, among: str) -> Fraction | None:
        costs = [self._cost(line) for line in body["lines"]]
        if any(cost is None for cost in costs):
            return None
        return sum((Fraction(line["quantity"]) * (cost or 0) for line, cost in zip(body["lines"], costs, strict=True)),
                   Fraction(0)) / Fraction(among)

    def _cost(self, line: Body) -> Fraction | None:
        if "ingredient" in line:
            prices = self.prices.get(line["ingredient"])
            return prices[-1] if prices else None
        if "recipe" in line:
            made = self.records[line["recipe"]][1]
            return self._total(made, made["makes_quantity"])
        breakdown = self.records[CUTS[line["cut"]]][1]
        bought = self._cost(breakdown["input"])
        shared = sum(Fraction(output["expected_yield"]) for output in breakdown["outputs"] if output["role"] != "loss")
        return None if bought is None else bought / shared

    def _reaches(self, used: set[str], code: str) -> bool:
        return code in used or any(self._reaches(uses(self.records[one][1]), code) for one in used)


def uses(body: Body) -> set[str]:
    """The records that one names."""
    lines = [*body.get("lines", ()), *([body["input"]] if "input" in body else ())]
    return {line.get("ingredient") or line.get("recipe") or CUTS[line["cut"]] for line in lines}


def model(run: Run) -> Verdict:
    """Ask at random, and hold every answer to the model."""
    chance = random.Random(run.seed)
    with asked_in_process(run.database_url, run.sabotage) as service:
        assert service.ask("PUT", "/v1/suppliers/fenmoor", {"name": "Fenmoor"}).status_code == 201
        kitchen = Model(service.read("/v1/changes?limit=1")["revision"])
        faults: list[str] = []
        statuses: dict[int, int] = {}
        cases = 0
        while cases < run.cases and run.in_time and not faults:
            method, path, status, expected = _asked(chance, service, kitchen)
            cases += 1
            statuses[status] = statuses.get(status, 0) + 1
            if status != expected:
                faults.append(f"request {cases}: {method} {path} was answered {status} where {expected} is right")
            elif method != "GET":
                faults += [f"request {cases}: {method} {path}: {fault}" for fault in _differences(service, kitchen)]
    return Verdict(cases, tuple(faults[:20]), {
        "revisions": kitchen.revision,
        "statuses": " ".join(f"{status}:{count}" for status, count in sorted(statuses.items()))})


def _asked(chance: random.Random, service: InProcess, kitchen: Model) -> tuple[str, str, int, int]:
    """One request: how it was answered, and how it should be."""
    kind = chance.choices([*CODES, "prices"], (2, 2, 6, 6, 6))[0]
    if kind == "prices":
        code, amount = f"ingredients-{chance.randrange(4)}", Fraction(chance.randint(1, 4_000), 100)
        path = f"/v1/ingredients/{code}/prices"
        answer = service.ask("POST", path, {"supplier": "fenmoor", "amount": f"{float(amount):.2f}",
                                            "pack_quantity": "1", "pack_unit": "kg"})
        return "POST", path, answer.status_code, kitchen.post_price(code, amount)
    code = f"{kind}-{chance.randrange(CODES[kind])}"
    path, condition = f"/v1/{kind}/{code}", _condition(chance, kitchen, code)
    headers = {} if condition is None else {"if_match": condition}
    if chance.random() < 0.15:
        return "DELETE", path, service.ask("DELETE", path, **headers).status_code, kitchen.delete(code, condition)
    body = kitchen.records[code][1] if code in kitchen.records and chance.random() < 0.1 else _body(chance, kind, code)
    return "PUT", path, service.ask("PUT", path, body, **headers).status_code, kitchen.put(code, body, condition)


def _condition(chance: random.Random, kitchen: Model, code: str) -> str | None:
    """Mostly the tag that is right, now and then none, or one that is stale."""
    there = kitchen.records.get(code)
    if chance.random() < 0.1:
        return None if chance.random() < 0.5 else '"1"'
    return None if there is None else f'"{there[0]}"'


def _body(chance: random.Random, kind: str, code: str) -> Body:
    if kind == "ingredients":
        return {"name": f"No. {chance.randrange(9)}", "kind": "primal", "base_unit": "kg"}
    if kind == "breakdowns":
        yields = chance.choice((("0.5", "0.3"), ("0.625", "0.125"), ("0.7", "0.11")))
        return {"name": code, "input": {"ingredient": f"ingredients-{chance.randrange(2)}"}, "method": "weight",
                "outputs": [{"cut": f"{code}-{part}", "name": part, "role": part, "expected_yield": share}
                            for part, share in zip(("main", "trim"), yields, strict=True)]}
    lines = [_line(chance) | {"quantity": f"{chance.randint(1, 3_000) / 1000:.3f}", "unit": "kg"}
             for _ in range(chance.randint(1, 3))]
    if kind == "recipes":
        return {"name": code, "makes_quantity": str(chance.choice((1, 3, 7))), "makes_unit": "kg", "lines": lines}
    return {"name": code, "portions": str(chance.choice((1, 4, 6))), "lines": lines}


def _line(chance: random.Random) -> Body:
    kind = chance.choice(("ingredient", "cut", "recipe"))
    return {kind: chance.choice(list(CUTS)) if kind == "cut" else f"{kind}s-{chance.randrange(4)}"}


def _differences(service: InProcess, kitchen: Model) -> list[str]:
    """Where the dishes that are published are not those of the model."""
    published = service.read("/v1/dish-costs?limit=1000")
    found = {row["dish"]: row["food_cost"] for row in published["data"]}
    expected = kitchen.food_costs()
    faults = [f"{code} costs {found.get(code, 'nothing')} where {expected.get(code, 'nothing')} is right"
              for code in sorted({*found, *expected}) if (code in found, found.get(code)) != (
                  code in expected, expected.get(code))]
    if published["revision"] != kitchen.revision:
        faults.append(f"the figures are of revision {published['revision']}, the last write was {kitchen.revision}")
    return faults


PROGRAMME = Programme(
    "model", "T07", "every answer is the one that a model gives", "requests", 400, 50_000, model,
    sabotages=("lost_bump", "no_if_match", "no_loop_check"))
