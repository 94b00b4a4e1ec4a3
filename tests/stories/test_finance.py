"""Finance: a primal's price goes up today and again on Monday; menu and tax are scheduled for the same Monday.

The expectation of every figure is the naive judge's (plain fractions, by recursion, over the same requests).
"""

import re
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest

from tests.cli.naive_kitchen import NaiveKitchen
from tests.stories.expected_figures import expected_costs, kitchen_on, published_costs, rounded, with_price
from tests.stories.running_service import MONDAY, WEDNESDAY, Client, RunningService

LAST_WEEK, SUNDAY = WEDNESDAY - timedelta(days=7), MONDAY - timedelta(days=1)
LIST_PRICE = Decimal("14.20")
FROM_TODAY = LIST_PRICE * Decimal("1.08")
FROM_MONDAY = FROM_TODAY * Decimal("1.05")
DEARER_SALAD, LOWER_TAX = "15.25", "12.5"
COSTS = "/v1/dish-costs"
LISTS = (COSTS, "/v1/cut-costs", "/v1/recipe-costs")


@dataclass(frozen=True)
class Told:
    """The service once all is recorded, and what it said before."""

    service: RunningService
    finance: Client
    revision_before: int
    before: dict[str, bytes]

    def rows(self, day: date) -> dict[str, dict[str, str]]:
        return published_costs(self.finance.read(f"{COSTS}?as_of={day}")["data"])


@pytest.fixture(scope="module")
def told(service: RunningService) -> Told:
    """Finance has raised the topside by 8 % from today and 5 % more from Monday, and scheduled a new price and tax."""
    finance = service.client("read", "prices:write", "menu:write", "admin")
    before = {f"{path}{asked}": finance.get(path + asked).content
              for path in LISTS for asked in ("", f"?as_of={LAST_WEEK}", f"?as_of={MONDAY}")}
    revision_before = finance.head_revision()
    for amount, start in ((FROM_TODAY, None), (FROM_MONDAY, MONDAY)):
        body = {"supplier": "fenmoor", "amount": f"{amount.normalize():f}", "pack_quantity": "1", "pack_unit": "kg"}
        finance.keep("/v1/ingredients/beef-topside/prices",
                     body | ({"effective_from": start.isoformat()} if start else {}))
    for path, change in (("/v1/dishes/seared-beef-salad", {"menu_price": DEARER_SALAD}),
                         ("/v1/settings", {"default_tax_rate_percent": LOWER_TAX})):
        record = finance.read(path)
        answer = finance.put(path, record | change | {"effective_from": MONDAY.isoformat()},
                             if_match=f'"{record["revision"]}"')
        assert answer.status_code == 200, answer.text
    return Told(service, finance, revision_before, before)


def the_judge_on(day: date) -> NaiveKitchen:
    """The naive judge's kitchen with all that finance has told, on a day."""
    kitchen = with_price(kitchen_on(day), "beef-topside", str(FROM_TODAY), WEDNESDAY)
    with_price(kitchen, "beef-topside", str(FROM_MONDAY), MONDAY)
    if day >= MONDAY:
        kitchen.settings = {**kitchen.settings, "default_tax_rate_percent": LOWER_TAX}
        dishes = kitchen.records["dishes"]
        dishes["seared-beef-salad"] = {**dishes["seared-beef-salad"], "menu_price": DEARER_SALAD}
    return kitchen


@pytest.mark.parametrize("day", [WEDNESDAY, SUNDAY, MONDAY, MONDAY + timedelta(days=200)])
def test_every_dish_follows_the_prices_menu_and_tax_of_the_day(told: Told, day: date) -> None:
    assert told.rows(day) == expected_costs(the_judge_on(day))


def test_what_is_scheduled_for_monday_moves_nothing_before(told: Told) -> None:
    """The salad's menu price and every dish's tax are as they were until Sunday."""
    for day in (WEDNESDAY, SUNDAY):
        rows = told.rows(day)
        assert rows["seared-beef-salad"]["menu_price"] == "14.00"
        assert rows["salmon-white-wine"]["price_before_tax"] == "14.5833"
    assert told.rows(MONDAY)["seared-beef-salad"]["menu_price"] == DEARER_SALAD


def test_what_holds_no_topside_and_no_salmon_costs_the_same_on_monday(told: Told) -> None:
    """The chicken alone; the dripping in its potatoes enters at the fat's credit value, whatever topside costs."""
    today, monday = told.rows(WEDNESDAY), told.rows(MONDAY)
    moved = {code for code in today if today[code]["food_cost"] != monday[code]["food_cost"]}
    assert set(today) - moved == {"roast-chicken-breast", "stuffed-chicken-leg"}


@pytest.mark.parametrize("path", LISTS)
def test_last_week_is_unchanged(told: Told, path: str) -> None:
    """Every figure of last week, byte by byte but for the revision that the answer says it is of."""
    before, after = (re.sub(rb'"revision":[0-9]+', b"", answer) for answer in (
        told.before[f"{path}?as_of={LAST_WEEK}"], told.finance.get(f"{path}?as_of={LAST_WEEK}").content))
    assert b'"as_of":"2026-11-18"' in before
    assert after == before


@pytest.mark.parametrize("path", LISTS)
@pytest.mark.parametrize("as_of", ["", f"as_of={LAST_WEEK}", f"as_of={MONDAY}"])
def test_figures_as_known_before_are_reproduced_to_the_digit(told: Told, path: str, as_of: str) -> None:
    asked = f"{path}?known_at={told.revision_before}" + (f"&{as_of}" if as_of else "")
    assert told.finance.get(asked).content == told.before[path + (f"?{as_of}" if as_of else "")]


def test_the_cuts_of_the_topside_follow_and_the_cost_factor_says_by_how_much(told: Told) -> None:
    cuts = {row["cut"]: row for row in told.finance.everything(f"/v1/cut-costs?as_of={MONDAY}")}
    judge = the_judge_on(MONDAY)
    for cut in ("topside-cap", "cap-steak", "topside-mince", "topside-dice"):
        exact = judge.cost_per_kg(cut)
        assert cuts[cut]["material_cost_per_kg"] == rounded(exact, 4)
        assert cuts[cut]["cost_factor"] == rounded(exact / Fraction(FROM_MONDAY), 4)


def test_a_wrong_price_is_withdrawn_with_a_reason_and_never_erased(told: Told) -> None:
    path = "/v1/ingredients/beef-topside/prices"
    slip = told.finance.keep(path, {"supplier": "fenmoor", "amount": "1402", "pack_quantity": "1", "pack_unit": "kg"})
    assert told.rows(WEDNESDAY) != expected_costs(the_judge_on(WEDNESDAY))
    answer = told.finance.post(f"{path}/{slip['id']}/withdrawal", {"reason": "A point was forgotten"})
    assert answer.json()["withdrawn"] == {"revision": told.finance.head_revision(), "reason": "A point was forgotten"}
    assert told.rows(WEDNESDAY) == expected_costs(the_judge_on(WEDNESDAY))
    assert told.finance.read(path)["data"][0] == answer.json()
    assert told.finance.post(f"{path}/{slip['id']}/withdrawal", {"reason": "Again"}).status_code == 422


def test_nothing_is_known_above_the_head(told: Told) -> None:
    answer = told.finance.get(f"{COSTS}?known_at={told.finance.head_revision() + 1}")
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["parameter"] == "known_at"


def test_midnight_changes_tag_and_figures_in_every_worker_with_no_write(told: Told) -> None:
    """The last of these stories: afterwards it is Monday."""
    workers = told.service.clients_of_every_worker(told.finance)
    assert len(workers) == 2
    monday_foretold, head = told.finance.get(f"{COSTS}?as_of={MONDAY}"), told.finance.head_revision()
    tag = told.finance.get(COSTS).headers["ETag"]
    for client in workers.values():
        assert client.get(COSTS, if_none_match=tag).status_code == 304
    told.service.move_to(MONDAY)
    for client in workers.values():
        answer = client.get(COSTS, if_none_match=tag)
        assert answer.status_code == 200
        assert answer.headers["ETag"] not in (tag, "")
        assert answer.content == monday_foretold.content
        assert answer.json()["as_of"] == MONDAY.isoformat()
    assert told.finance.head_revision() == head
