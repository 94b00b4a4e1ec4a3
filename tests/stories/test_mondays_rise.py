"""A chef hears on Wednesday that the topside goes up on Monday: which dishes break, what would mend them, and is it so?

The price is scheduled for Monday. What the what-if says of it is held against what Monday's figures then are, and so
is the mend that the chef adopts; alerts tell of the crossing on the day it happens, and of the way back.
"""

from decimal import Decimal
from typing import Any

from tests.stories.running_service import MONDAY, Client, RunningService

TOPSIDE = "beef-topside"
LOOKS_BACK = ("as_of", "revision", "last_complete")
DEARER = {"supplier": "fenmoor", "amount": "24.85", "pack_quantity": "1", "pack_unit": "kg"}
Body = dict[str, Any]


def figures(chef: Client, day: str) -> dict[str, Body]:
    """The menu of a day by dish, without what says where it stands."""
    rows = chef.everything(f"/v1/dish-costs?as_of={day}&limit=1000")
    return {row["dish"]: {name: value for name, value in row.items() if name not in LOOKS_BACK} for row in rows}


def what_if(chef: Client, **asked: Any) -> Body:
    answer = chef.post("/v1/what-if", asked)
    assert answer.status_code == 200, answer.text
    body: Body = answer.json()
    return body


def after_of(told: Body, code: str) -> Body:
    after: Body = next(dish["after"] for dish in told["dishes"] if dish["dish"] == code)
    return after


def crossings(chef: Client) -> list[tuple[str, str, str]]:
    """Every alert as (day, dish, which way), once all that has happened was gone through."""
    while not chef.read("/v1/margin-alerts?limit=1")["up_to_date"]:
        pass
    alerts = chef.everything("/v1/margin-alerts?limit=100")
    return sorted((alert["as_of"], alert["dish"], alert["crossed"]) for alert in alerts)


def test_mondays_rise_is_seen_on_wednesday_mended_and_comes_as_it_was_said(service: RunningService) -> None:
    chef, monday = service.client("read", "prices:write", "menu:write"), MONDAY.isoformat()
    told_before = crossings(chef)

    said = what_if(chef, as_of=monday, prices=[{"ingredient": TOPSIDE} | DEARER])
    broken = said["leaves_target"]
    assert broken, "the rise breaks some dishes"
    chef.keep(f"/v1/ingredients/{TOPSIDE}/prices", DEARER | {"effective_from": monday})
    scheduled = figures(chef, monday)
    for dish in said["dishes"]:
        assert dish["after"] == {name: scheduled[dish["dish"]][name] for name in dish["after"]}
    assert crossings(chef) == told_before, "nothing has happened yet: the price starts on Monday"

    code = broken[0]
    mends = next(dish["mends"] for dish in said["dishes"] if dish["dish"] == code)
    primal = next(mend for mend in mends["ingredient_prices"] if mend["ingredient"] == TOPSIDE)
    tried = [
        what_if(chef, as_of=monday, menu_prices=[{"dish": code, "menu_price": mends["menu_price"]}]),
        what_if(chef, as_of=monday, portions=[{"dish": code, "portions": mends["portions"]}]),
        what_if(chef, as_of=monday, prices=[{"ingredient": TOPSIDE} | DEARER | {"amount": primal["unit_price"]}])]
    assert [after_of(trial, code)["within_target"] for trial in tried] == [True, True, True]
    assert Decimal(primal["unit_price"]) < Decimal(DEARER["amount"])

    service.move_to(MONDAY)
    now = figures(chef, monday)
    assert now == scheduled
    assert crossings(chef) == sorted([*told_before, *((monday, dish, "outside") for dish in broken)])

    dish = chef.read(f"/v1/dishes/{code}")
    chef.keep(f"/v1/dishes/{code}", dish | {"menu_price": mends["menu_price"]})
    adopted = figures(chef, monday)[code]
    assert {name: adopted[name] for name in after_of(tried[0], code)} == after_of(tried[0], code)
    assert (monday, code, "back_within") in crossings(chef)
