"""A dish's page over HTTP, against the API: figures, working, history, allergens, what is missing, what would mend it.

Sources: the API's own answers; the kitchen is invented (board_kitchen).
"""

import re
from decimal import Decimal
from typing import Any

import pytest

from tests.stories.running_service import MONDAY, WEDNESDAY, RunningService
from tests.web.board_kitchen import THURSDAY
from tests.web.signed import Signed
from tests.web.test_docs_pages import Page


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", html))


def section(html: str, name: str) -> str:
    return html.partition(f'aria-labelledby="{name}"')[2].partition("</section>")[0]


@pytest.fixture(scope="module")
def page(reader: Signed) -> str:
    answer = reader.ask("GET", "/dishes/topside-roast")
    assert answer.status_code == 200
    return answer.text


@pytest.fixture(scope="module")
def row(morning: RunningService) -> Any:
    return morning.admin.read("/v1/dish-costs/topside-roast")


def test_it_shows_the_figures_of_the_api(page: str, row: Any) -> None:
    figures = re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", page)
    told = {name: text_of(value).split(" ")[0] for name, value in figures}
    assert told == {"Food cost": row["food_cost"], "Food cost %": row["food_cost_percent"],
                    "Gross profit": row["gross_profit"], "Menu price": row["menu_price"],
                    "Before tax": row["price_before_tax"], "Target menu price": row["target_menu_price"],
                    "Labour cost": row["labour_cost"]}


def test_outside_target_is_said_in_words_with_how_far(page: str, row: Any) -> None:
    off = Decimal(row["food_cost_percent"]) - Decimal(row["target_food_cost_percent"])
    assert off > 0
    assert f"Outside target by {off} points" in text_of(page)


def test_every_step_of_the_working_stands_on_it_once(morning: RunningService, page: str) -> None:
    working = morning.admin.read("/v1/dish-costs/topside-roast/working")
    steps = [step for figure in working["figures"] for step in figure["steps"]]
    rounding = {figure["steps"][-1]["step"] for figure in working["figures"]}
    ids = re.findall(r'id="step-(\d+)"', page)
    assert sorted(map(int, ids)) == sorted({step["step"] for step in steps} - rounding)
    for figure in working["figures"]:
        assert f"<b>{figure['published']}</b>" in section(page, "working")


def test_the_working_goes_down_to_the_supplier_s_price(page: str) -> None:
    told = text_of(section(page, "working"))
    assert f"price of Fenmoor Larder from {THURSDAY}" in told
    assert "15.2 GBP amount" in told


def test_the_history_tells_each_day_on_which_the_cost_moved_and_what_is_to_come(
        morning: RunningService, page: str) -> None:
    history = section(page, "history")
    days = re.findall(r'<time datetime="([^"]+)"', history)
    assert days[-2:] == [THURSDAY.isoformat(), MONDAY.isoformat()]
    for day in (WEDNESDAY, THURSDAY, MONDAY):
        known = morning.admin.read(f"/v1/dish-costs/topside-roast?as_of={day}")["food_cost"]
        held = [number for number, start in enumerate(days) if start <= day.isoformat()][-1]
        cells = re.findall(r"<td[^>]*>(.*?)</td>", history.split("<tr>")[2:][held])
        assert text_of(cells[0]) == known, day
    assert "to come" in text_of(history)
    assert "By what is recorded already it will be" in text_of(history)


def test_what_would_mend_it_is_what_the_what_if_says(morning: RunningService, page: str) -> None:
    assert "What would mend it" in page
    mends = text_of(section(page, "mends"))
    price = morning.admin.read("/v1/dish-costs/topside-roast")["target_menu_price"]
    assert f"Menu price try it{price}" in mends
    assert f"&amp;menu_prices=topside-roast:{price}\"" in page
    tried = morning.admin.post("/v1/what-if", {"menu_prices": [{"dish": "topside-roast", "menu_price": price}]}).json()
    assert "topside-roast" in tried["re_enters_target"]


def test_within_target_there_is_nothing_to_mend(reader: Signed) -> None:
    page = reader.ask("GET", "/dishes/braised-shin").text
    assert "What would mend it" not in page
    assert "Within target" in page


def test_allergens_are_told_with_the_way_they_come_in_and_unknown_is_not_none(reader: Signed) -> None:
    butter = text_of(section(reader.ask("GET", "/dishes/brown-butter").text, "allergens"))
    assert "Milk" in butter
    egg = text_of(section(reader.ask("GET", "/dishes/egg-mayonnaise").text, "allergens"))
    assert "Egg declares nothing. Unknown is not none." in egg


def test_a_dish_without_a_price_says_so_and_shows_no_number(morning: RunningService, reader: Signed) -> None:
    page = reader.ask("GET", "/dishes/egg-mayonnaise").text
    gap = morning.admin.read("/v1/dish-costs/egg-mayonnaise")["gaps"][0]["detail"]
    assert gap in page
    assert "Not complete" in page
    assert re.search(r"<dt>Food cost</dt><dd><span class=\"none\">–</span></dd>", page)


def test_a_name_with_markup_in_it_stays_text(reader: Signed) -> None:
    page = reader.ask("GET", "/dishes/brown-butter").text
    assert "<h1>Brown butter &lt;b&gt;&amp;amp;&lt;/b&gt; bread</h1>" in page
    assert Page(page).inline == []


@pytest.mark.parametrize("path", ["/dishes/no-such-dish", "/dishes/No%20Code", "/dishes/topside-roast?as_of=2026-01-01&"
                                  "known_at=0"])
def test_a_dish_that_is_not_there_is_a_page_that_says_so(reader: Signed, path: str) -> None:
    answer = reader.ask("GET", path)
    assert (answer.status_code, answer.headers["Content-Type"]) == (404, "text/html; charset=utf-8")
    assert 'href="/"' in answer.text


def test_the_page_is_whole_and_every_link_on_it_leads_somewhere(reader: Signed, page: str) -> None:
    told = Page(page)
    assert told.open == []
    assert len(told.ids) == len(set(told.ids))
    assert told.inline == []
    for link in {link for link in told.links if link.startswith("/")}:
        assert reader.ask("GET", link.replace("&amp;", "&")).status_code == 200, link
    assert {link[1:] for link in told.links if link.startswith("#")} <= set(told.ids)
