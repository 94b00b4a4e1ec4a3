"""What would be equals what then is: random what-ifs on the demo kitchen, each then recorded for real over HTTP.

The judge knows nothing of how a what-if is computed: it records the changes by PUT and POST as a person would, and
reads the lists. Yields that stay are taken from the published weights of the tests.
"""

import random
from collections.abc import Iterator
from decimal import ROUND_DOWN, ROUND_FLOOR, ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.rest.example_making import KEYS, demo_client

HEADERS = {"Authorization": f"Bearer {next(iter(KEYS))}"}
LOOKS_BACK = ("as_of", "revision", "last_complete")
METHODS = ("weight", "market_value", "net_realisable_value", "constant_margin")
MILLIONTH = Decimal("0.000001")
Body = dict[str, Any]


class Demo:
    """The demo kitchen over HTTP."""

    def __init__(self, client: FlaskClient) -> None:
        self.client = client

    def get(self, path: str) -> Any:
        answer = self.client.get(path, headers=HEADERS)
        assert answer.status_code == 200, answer.text
        return answer.json

    def rows(self, what: str) -> dict[str, Body]:
        """A whole list of costs by code, without what says where it stands."""
        listed = self.get(f"/v1/{what}-costs?limit=1000")["data"]
        return {row[what]: {name: value for name, value in row.items() if name not in LOOKS_BACK} for row in listed}

    def lists(self) -> dict[str, dict[str, Body]]:
        return {what: self.rows(what) for what in ("dish", "cut", "recipe")}

    def what_if(self, **asked: Any) -> Body:
        answer = self.client.post("/v1/what-if", headers=HEADERS, json=asked)
        assert answer.status_code == 200, answer.text
        body: Body = answer.json or {}
        return body

    def refused(self, **asked: Any) -> dict[str, str]:
        """What is wrong, by its place."""
        answer = self.client.post("/v1/what-if", headers=HEADERS, json=asked)
        assert answer.status_code == 422, answer.text
        told = answer.json or {}
        return {fault["pointer"]: fault["detail"] for fault in told.get("errors", [told])}

    def change(self, kind: str, code: str, **members: Any) -> None:
        """PUT a record as it stands with some members changed."""
        record = self.get(f"/v1/{kind}s/{code}".replace("dishs", "dishes"))
        put = self.client.put(f"/v1/{kind}s/{code}".replace("dishs", "dishes"), json=record | members,
                              headers=HEADERS | {"If-Match": f'"{record["revision"]}"'})
        assert put.status_code == 200, put.text

    def record(self, ingredient: str, **price: Any) -> None:
        answer = self.client.post(f"/v1/ingredients/{ingredient}/prices", json=price, headers=HEADERS)
        assert answer.status_code == 201, answer.text

    def head(self) -> int:
        revision: int = self.get("/v1/dish-costs?limit=1")["revision"]
        return revision


@pytest.fixture(scope="module")
def demo() -> Iterator[Demo]:
    with demo_client() as client:
        yield Demo(client)


def a_price_move(demo: Demo, chance: random.Random) -> tuple[Body, list[Any]]:
    """All prices of some ingredients by a percentage, and how a person would record that."""
    offered = demo.get("/v1/prices?limit=1000")["data"]
    codes = chance.sample(sorted({price["ingredient"] for price in offered}), chance.randint(1, 4))
    percent = Decimal(chance.randint(-9_999, 30_000)).scaleb(-2)

    def record(price: Body) -> None:
        amount = (Decimal(price["amount"]) * (100 + percent) / 100).quantize(MILLIONTH, ROUND_HALF_UP)
        demo.record(price["ingredient"], supplier=price["supplier"], amount=f"{amount:f}",
                    pack_quantity=price["pack_quantity"], pack_unit=price["pack_unit"],
                    effective_to=price["effective_to"])

    meant = [price for price in offered if price["ingredient"] in codes]
    return {"prices": [{"percent": str(percent), "ingredients": codes}]}, [lambda each=each: record(each)
                                                                         for each in meant]


def a_price(demo: Demo, chance: random.Random) -> tuple[Body, list[Any]]:
    told = chance.choice(demo.get("/v1/prices?limit=1000")["data"])
    price = {name: told[name] for name in ("supplier", "pack_quantity", "pack_unit")} | {
        "amount": str(Decimal(chance.randint(1, 90_000)).scaleb(-3))}
    return ({"prices": [price | {"ingredient": told["ingredient"]}]},
            [lambda: demo.record(told["ingredient"], **price)])


def yields_as_weighed(demo: Demo, code: str) -> dict[str, Decimal]:
    """Today's yields of a breakdown from the weights of the tests that count, or as declared; cut off at 6 decimals."""
    plan = demo.get(f"/v1/breakdowns/{code}")
    statistics = demo.get(f"/v1/breakdowns/{code}/yields")
    if statistics["yield_basis"] == "declared":
        return {output["cut"]: Decimal(output["expected_yield"]) for output in plan["outputs"]}
    counting = {test["test"] for test in statistics["counting"]}
    tests = [test for test in demo.get(f"/v1/breakdowns/{code}/yield-tests?limit=1000")["data"]
             if test["id"] in counting]
    assert len({test["unit"] for test in tests}) == 1, "the demo weighs in one unit"
    paid_for = sum(Fraction(test["input_weight"]) for test in tests)
    weights = {output["cut"]: sum(Fraction(weighed["weight"]) for test in tests for weighed in test["outputs"]
                                  if weighed["cut"] == output["cut"]) for output in plan["outputs"]}
    return {cut: (Decimal((weight / paid_for).numerator) / Decimal((weight / paid_for).denominator)).quantize(
        MILLIONTH, ROUND_DOWN) for cut, weight in weights.items()}


def other_yields(demo: Demo, chance: random.Random) -> tuple[Body, list[Any]]:
    """Some of one output goes into another."""
    code = chance.choice([plan["code"] for plan in demo.get("/v1/breakdowns?limit=1000")["data"] if plan["in_use"]])
    yields = yields_as_weighed(demo, code)
    loses, gains = chance.sample(sorted(yields), 2) if len(yields) > 1 else (next(iter(yields)),) * 2
    goes = (yields[loses] * Decimal(chance.randint(1, 60)) / 100).quantize(MILLIONTH, ROUND_FLOOR)
    given = {loses: yields[loses] - goes} | ({gains: yields[gains] + goes} if gains != loses else {})
    plan = demo.get(f"/v1/breakdowns/{code}")
    outputs = [output | {"expected_yield": f"{(yields | given)[output['cut']]:f}"} for output in plan["outputs"]]
    return ({"yields": [{"breakdown": code, "yields": [{"cut": cut, "yield": f"{each:f}"}
                                                       for cut, each in given.items()]}]},
            [lambda: demo.change("breakdown", code, outputs=outputs, yields_from="declared")])


def another_method(demo: Demo, chance: random.Random) -> tuple[Body, list[Any]]:
    code = chance.choice([plan["code"] for plan in demo.get("/v1/breakdowns?limit=1000")["data"]])
    method = chance.choice(METHODS)
    return ({"methods": [{"breakdown": code, "method": method}]},
            [lambda: demo.change("breakdown", code, method=method)])


def another_dish(demo: Demo, chance: random.Random) -> tuple[Body, list[Any]]:
    """A menu price and a number of portions of one dish: one record, changed once."""
    code = chance.choice(sorted(demo.rows("dish")))
    price, portions = str(Decimal(chance.randint(500, 4_000)).scaleb(-2)), str(chance.randint(1, 30))
    return ({"menu_prices": [{"dish": code, "menu_price": price}], "portions": [{"dish": code, "portions": portions}]},
            [lambda: demo.change("dish", code, menu_price=price, portions=portions)])


def another_cut(demo: Demo, chance: random.Random) -> tuple[Body, list[Any]]:
    """One line of a dish takes another cut, as much of it in grams."""
    cuts = sorted(demo.rows("cut"))
    dishes = [dish for dish in demo.get("/v1/dishes?limit=1000")["data"]
              if any("cut" in line for line in dish["lines"])]
    dish = chance.choice(dishes)
    used, instead = next(line["cut"] for line in dish["lines"] if "cut" in line), chance.choice(cuts)
    grams = str(chance.randint(50, 900))
    lines = [line | {"cut": instead, "quantity": grams, "unit": "g"} if line.get("cut") == used else line
             for line in dish["lines"]]
    return ({"swaps": [{"dish": dish["code"], "uses": {"cut": used}, "instead": {"cut": instead}, "quantity": grams,
                        "unit": "g"}]},
            [lambda: demo.change("dish", dish["code"], lines=lines)])


CHANGES = (a_price_move, a_price, other_yields, another_method, another_dish, another_cut)


def test_what_would_be_is_what_then_is(demo: Demo) -> None:
    chance = random.Random(20261126)
    moved = dict.fromkeys(("dish", "cut", "recipe"), 0)
    for _ in range(24):
        supposed: Body = {}
        steps: list[Any] = []
        for change in chance.sample(CHANGES, chance.randint(1, 3)):
            asked, recorded = change(demo, chance)
            if not supposed.keys() & asked.keys():
                supposed |= asked
                steps += recorded
        before = demo.lists()
        head = demo.head()
        would = demo.what_if(**supposed)
        assert demo.head() == head, "a what-if takes no revision"
        for step in steps:
            step()
        after = demo.lists()
        for what, listed in (("dish", would["dishes"]), ("cut", would["cuts"]), ("recipe", would["recipes"])):
            found = {row[what]: row for row in listed}
            assert sorted(found) == sorted(code for code in after[what] if before[what].get(code) != after[what][code])
            for code, row in found.items():
                for side, real in (("before", before[what]), ("after", after[what])):
                    assert row[side] == {name: real[code][name] for name in row[side] if name not in LOOKS_BACK} | {
                        name: row[side][name] for name in LOOKS_BACK if name in row[side]}, (supposed, code, side)
            moved[what] += len(found)
        assert would["leaves_target"] == [code for code in sorted(after["dish"]) if (
            before["dish"][code]["within_target"], after["dish"][code]["within_target"]) == (True, False)]
        assert would["re_enters_target"] == [code for code in sorted(after["dish"]) if (
            before["dish"][code]["within_target"], after["dish"][code]["within_target"]) == (False, True)]
    assert all(count > 20 for count in moved.values()), f"the changes moved something: {moved}"


def test_each_step_of_a_ramp_is_the_what_if_of_that_step(demo: Demo) -> None:
    code = demo.get("/v1/dish-costs?limit=1000")["data"][0]["dish"]
    supposed: Body = {"portions": [{"dish": code, "portions": "3.5"}], "menu_prices": [{"percent": "4"}]}
    ramp = demo.what_if(**supposed, ramp={"from_percent": "-20", "to_percent": "40", "step_percent": "20",
                                          "kinds": ["primal"]})["ramp"]
    assert ramp["percents"] == ["-20", "0", "20", "40"]
    curves = {curve["dish"]: curve for curve in ramp["dishes"]}
    assert len(curves) > 3
    standing = demo.rows("dish")
    for place, percent in enumerate(ramp["percents"]):
        single = demo.what_if(**supposed, prices=[{"percent": percent, "kinds": ["primal"]}])
        assert ramp["menu"][place] == single["menu"]["after"]
        after = {dish["dish"]: dish["after"] for dish in single["dishes"]}
        for dish, curve in curves.items():
            row = after.get(dish, standing[dish])
            assert {name: curve[name][place] for name in ("food_cost", "food_cost_percent", "gross_profit",
                                                          "within_target")} == {
                name: row[name] for name in ("food_cost", "food_cost_percent", "gross_profit", "within_target")}
    flat = {code for code, row in standing.items() if after.get(code, row)["food_cost"] == row["food_cost"]}
    assert not flat & curves.keys()


def test_each_mend_alone_brings_the_dish_back_and_a_little_less_does_not(demo: Demo) -> None:
    dearer: Body = {"prices": [{"percent": "70"}]}
    broken = [dish for dish in demo.what_if(**dearer)["dishes"] if dish["mends"] is not None]
    assert len(broken) > 1
    tried = 0

    def within(code: str, **more: Any) -> bool:
        prices = dearer["prices"] + more.pop("prices", [])
        told = demo.what_if(prices=prices, **more)["dishes"]
        return next(bool(dish["after"]["within_target"]) for dish in told if dish["dish"] == code)

    for dish in broken[:6]:
        code, mends = dish["dish"], dish["mends"]
        assert within(code, menu_prices=[{"dish": code, "menu_price": mends["menu_price"]}])
        less = Decimal(mends["portions"]) - MILLIONTH
        assert within(code, portions=[{"dish": code, "portions": mends["portions"]}])
        assert not within(code, portions=[{"dish": code, "portions": f"{less:f}"}])
        for mend in mends["ingredient_prices"][:3]:
            supplier = next(price["supplier"] for price in demo.get("/v1/prices?limit=1000")["data"]
                            if price["ingredient"] == mend["ingredient"])
            at = {"ingredient": mend["ingredient"], "supplier": supplier, "pack_quantity": "1",
                  "pack_unit": mend["base_unit"]}
            dear = Decimal(mend["unit_price"]) + Decimal("0.0001")
            assert within(code, prices=[at | {"amount": mend["unit_price"]}])
            assert not within(code, prices=[at | {"amount": f"{dear:f}"}])
            assert Decimal(mend["unit_price"]) < Decimal(mend["unit_price_now"])
            tried += 1
    assert tried > 2


def test_mends_are_told_of_the_dishes_that_are_named_alone(demo: Demo) -> None:
    dearer = [{"percent": "70"}]
    whole = {dish["dish"]: dish for dish in demo.what_if(prices=dearer)["dishes"]}
    one = next(code for code, dish in whole.items() if dish["mends"] is not None)
    told = demo.what_if(prices=dearer, mends_for=[one])["dishes"]
    assert {dish["dish"]: dish["mends"] for dish in told} == dict.fromkeys(whole) | {one: whole[one]["mends"]}
    assert all(dish["mends"] is None for dish in demo.what_if(prices=dearer, mends_for=[])["dishes"])


def test_lists_are_told_that_are_asked_for_alone(demo: Demo) -> None:
    whole = demo.what_if(prices=[{"percent": "7"}])
    assert demo.what_if(prices=[{"percent": "7"}], lists=["cuts"]) == whole | {"dishes": None, "recipes": None}


def test_a_dish_within_its_target_needs_no_mend_and_one_outside_is_told_the_same_at_its_own_address(demo: Demo) -> None:
    for code, row in demo.rows("dish").items():
        told = demo.get(f"/v1/dish-costs/{code}/mends")
        assert (told["mends"] is None) == (row["within_target"] is not False)
        assert told["within_target"] == row["within_target"]


def test_covers_weigh_the_menu_whose_totals_are_those_of_the_rows(demo: Demo) -> None:
    rows = demo.rows("dish")
    sold = {code: Decimal(place) / 2 for place, code in enumerate(sorted(rows), 1)}
    told = demo.what_if(covers=[{"dish": code, "quantity": str(count)} for code, count in sold.items()])
    known = {code: count for code, count in sold.items() if rows[code]["food_cost"] is not None}
    cost = sum(count * Decimal(rows[code]["food_cost"]) for code, count in known.items())
    takings = sum(count * Decimal(rows[code]["price_before_tax"]) for code, count in known.items())
    assert told["weights"] == "covers"
    assert told["menu"]["before"] == told["menu"]["after"]
    assert told["menu"]["after"]["dishes_without_figures"] == len(sold) - len(known)
    assert told["menu"]["after"]["food_cost_percent"] == str((cost / takings * 100).quantize(
        Decimal("0.01"), ROUND_HALF_UP))
    assert Decimal(told["menu"]["after"]["food_cost"]) == cost.quantize(Decimal("0.0001"), ROUND_HALF_UP)
    assert told["dishes"] == told["cuts"] == told["recipes"] == []


def test_a_price_that_another_outranks_moves_nothing_and_says_so(demo: Demo) -> None:
    price = next(price for price in demo.get("/v1/prices?limit=1000")["data"] if price["preferred"])
    demo.record(price["ingredient"], supplier=price["supplier"], amount="77", pack_quantity="1",
                pack_unit=price["base_unit"], effective_to="2027-06-30")
    told = demo.what_if(prices=[{"ingredient": price["ingredient"], "supplier": price["supplier"], "amount": "1",
                                 "pack_quantity": "1", "pack_unit": price["base_unit"]}])
    assert [(found["code"], found["record"]) for found in told["findings"]] == [
        ("price_does_not_decide", price["ingredient"])]
    assert "until 2027-06-30" in told["findings"][0]["detail"]
    assert told["dishes"] == []


A_PRICE = {"ingredient": "beef-topside", "supplier": "fenmoor", "amount": "1", "pack_quantity": "1", "pack_unit": "kg"}


@pytest.mark.parametrize(("asked", "pointer", "words"), [
    ({"prices": [{"percent": "5", "ingredients": ["beef-topsid"]}]}, "#/prices/0/ingredients/0", "correct the code"),
    ({"prices": [{"percent": "5", "suppliers": ["nobody"]}]}, "#/prices/0/suppliers/0", "correct the code"),
    ({"prices": [{"percent": "5", "kinds": ["gold"]}]}, "#/prices/0/kinds/0", "there are"),
    ({"prices": [{"percent": "-100.01"}]}, "#/prices/0/percent", "at least -100"),
    ({"prices": [{"ingredients": ["beef-topside"]}]}, "#/prices/0", "go with a percent"),
    ({"prices": [A_PRICE | {"percent": "5"}]}, "#/prices/0", "not both"),
    ({"prices": [A_PRICE | {"pack_unit": "l"}]}, "#/prices/0/pack_unit", "record how many"),
    ({"prices": [A_PRICE | {"supplier": "nobody"}]}, "#/prices/0/supplier", "correct the code"),
    ({"prices": [A_PRICE | {"ingredient": "nothing"}]}, "#/prices/0/ingredient", "correct the code"),
    ({"yields": [{"breakdown": "topside-seamed", "yields": [{"cut": "wing", "yield": "0.1"}]}]},
     "#/yields/0/yields/0/cut", "has no output"),
    ({"yields": [{"breakdown": "topside-seamed", "yields": [{"cut": "topside-cap", "yield": "0.9"}]}]},
     "#/yields/0/yields", "more than goes in"),
    ({"yields": [{"breakdown": "topside-seamed", "yields": [{"cut": "topside-cap", "yield": "1.1"}]}]},
     "#/yields/0/yields/0/yield", "at most 1"),
    ({"methods": [{"breakdown": "nothing", "method": "weight"}]}, "#/methods/0/breakdown", "correct its code"),
    ({"methods": [{"breakdown": "topside-seamed", "method": "by_luck"}]}, "#/methods/0/method", "one of"),
    ({"menu_prices": [{"dish": "grilled-cap", "menu_price": "22.005"}]}, "#/menu_prices/0/menu_price", "2 decimals"),
    ({"menu_prices": [{"percent": "5", "sections": ["attic"]}]}, "#/menu_prices/0/sections/0", "there are"),
    ({"menu_prices": [{"dish": "grilled-cap"}]}, "#/menu_prices/0/menu_price", "percent"),
    ({"portions": [{"dish": "grilled-cap", "portions": "0"}]}, "#/portions/0/portions", "above 0"),
    ({"swaps": [{"dish": "grilled-cap", "uses": {"cut": "topside-dice"}, "instead": {"cut": "topside-cap"}}]},
     "#/swaps/0/uses", "its lines use"),
    ({"swaps": [{"dish": "grilled-cap", "uses": {"cut": "topside-cap"}, "instead": {"cut": "wing"}}]},
     "#/swaps/0/instead", "No breakdown in use"),
    ({"swaps": [{"dish": "grilled-cap", "uses": {"cut": "topside-cap"}, "instead": {"cut": "topside-cap"},
                 "quantity": "1"}]}, "#/swaps/0/unit", "together"),
    ({"swaps": [{"recipe": "red-wine-jus", "uses": {"recipe": "brown-stock"}, "instead": {"recipe": "red-wine-jus"}}]},
     "#/swaps/0/instead", "itself"),
    ({"covers": [{"dish": "nothing", "quantity": "1"}]}, "#/covers/0/dish", "leave it out"),
    ({"covers_from_sales": {"from": "2020-01-01", "to": "2020-01-02"}}, "#/covers_from_sales", "No sales"),
    ({"covers_from_sales": {"from": "2020-01-03", "to": "2020-01-02"}}, "#/covers_from_sales/from", "on or before"),
    ({"ramp": {"from_percent": "5", "to_percent": "0", "step_percent": "1"}}, "#/ramp/to_percent", "from 5 on"),
    ({"ramp": {"from_percent": "0", "to_percent": "61", "step_percent": "1"}}, "#/ramp/step_percent", "larger ones"),
    ({"ramp": {"from_percent": "0", "to_percent": "1", "step_percent": "1", "ingredients": ["nothing"]}},
     "#/ramp/ingredients/0", "correct the code"),
    ({"known_at": 999999}, "#/known_at", "later"),
    ({"mends_for": ["grilled-cap", "nothing"]}, "#/mends_for/1", "leave it out"),
])
def test_what_makes_no_sense_is_refused_by_its_field_with_the_mend(
    demo: Demo, asked: Body, pointer: str, words: str
) -> None:
    told = demo.refused(**asked)
    assert pointer in told, told
    assert words in told[pointer]
