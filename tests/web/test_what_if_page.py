"""What if, in a real browser: a slider moves and the dishes answer as the API does; a link says it all again; mends are
tried and taken back; what is wrong stands beside its lever, and what was typed stays.

Sources: the API's own answers; WCAG 2.2 levels A and AA as axe-core checks them. The kitchen is invented.
"""

from typing import Any

import pytest
from selenium.webdriver.common.keys import Keys

from tests.node_packages import SECONDS_TO_INSTALL, needs_node
from tests.stories.running_service import RunningService
from tests.web.browser import DESK, PHONE_DARK, Browser, Window, looked_at
from tests.web.conftest import OpenBrowser
from tests.web.test_board_for_everybody import signed_in
from tests.web.test_prices_page_for_everybody import WIDEST, hold_to_accessibility, tab_to

WINDOWS = pytest.mark.parametrize("window", looked_at(PHONE_DARK), ids=lambda window: window.name)
TOPSIDE, CAP = "#p-beef-topside", "#y-topside-seamed-topside-cap"
SLIDE = "arguments[0].value = arguments[1]; arguments[0].dispatchEvent(new Event('input', {bubbles: true}))"


@pytest.fixture(scope="module")
def seamed(morning: RunningService) -> RunningService:
    """The kitchen with a topside that is seamed, and a dish of its cap."""
    morning.admin.keep("/v1/breakdowns/topside-seamed", {
        "name": "Topside, seamed", "input": {"ingredient": "beef-topside"}, "method": "weight", "outputs": [
            {"cut": "topside-cap", "name": "Topside cap", "role": "main", "expected_yield": "0.10"},
            {"cut": "topside-inside", "name": "Inside", "role": "main", "expected_yield": "0.70"},
            {"cut": "topside-silverskin", "name": "Silverskin", "role": "loss", "expected_yield": "0.05"}]})
    morning.admin.keep("/v1/dishes/grilled-cap", {
        "name": "Grilled cap", "section": "grill", "portions": "1", "menu_price": "14.00",
        "lines": [{"cut": "topside-cap", "quantity": "200", "unit": "g"}]})
    return morning


@pytest.fixture
def desk(open_browser: OpenBrowser, seamed: RunningService, admin_key: str) -> Browser:
    return signed_in(open_browser(DESK), admin_key, "/what-if")


def slide(browser: Browser, lever: str, value: str) -> None:
    browser.run(SLIDE, browser.seen(lever), value)


def rows(browser: Browser) -> dict[str, list[str]]:
    """The dishes that are shown to move, by name, with their cells."""
    return {row[0].partition("\n")[0]: row[1:] for row in browser.run("""
        return [...document.querySelectorAll('#moved tbody tr:not(.mends)')].map(
            (row) => [row.querySelector('a').textContent, ...[...row.cells].slice(1).map((cell) => cell.textContent)]);
    """)}


def would(service: RunningService, **asked: Any) -> dict[str, Any]:
    answer = service.admin.post("/v1/what-if", asked)
    assert answer.status_code == 200, answer.text
    return {dish["name"]: dish for dish in answer.json()["dishes"]}


def after(dish: dict[str, Any], name: str) -> str:
    """A figure before and after as the page has it in one cell."""
    was, then = dish["before"][name], dish["after"][name]
    return str(then) if was == then else f"{was} today, then {then}"


def test_a_slider_moves_and_the_dishes_answer_as_the_api_does(desk: Browser, seamed: RunningService) -> None:
    assert desk.text("#said") == "Nothing is moved yet."
    slide(desk, TOPSIDE, "12")
    desk.says("#said", "The menu goes from")
    told = would(seamed, prices=[{"percent": "12", "ingredients": ["beef-topside"]}])
    shown = rows(desk)
    assert shown.keys() == told.keys()
    for name, dish in told.items():
        assert (shown[name][0], shown[name][2], shown[name][3]) == (
            after(dish, "food_cost_percent"), after(dish, "food_cost"), after(dish, "gross_profit"))
    assert desk.driver.current_url.endswith("/what-if?prices=beef-topside:12")
    slide(desk, TOPSIDE, "0")
    desk.says("#said", "Nothing is moved yet.")
    assert desk.driver.current_url.endswith("/what-if")


def test_a_yield_is_typed_exactly_and_one_that_cannot_be_is_said_beside_it(
        desk: Browser, seamed: RunningService) -> None:
    desk.click("[data-breakdown] summary")
    box = desk.seen(f"{CAP} + .exact input")
    box.clear()
    box.send_keys("12.5")
    desk.says("#said", "The menu goes from")
    told = would(seamed, yields=[{"breakdown": "topside-seamed", "yields": [{"cut": "topside-cap", "yield": "0.125"}]}])
    assert {name: cells[2] for name, cells in rows(desk).items()} == {
        name: after(dish, "food_cost") for name, dish in told.items()}
    box.clear()
    box.send_keys("90")
    desk.says("[data-breakdown] > .wrong", "more than goes in")
    assert box.get_attribute("value") == "90"
    assert (desk.text("#said").partition(":")[0], rows(desk)) == ("Not worked out", {})
    box.clear()
    box.send_keys("11")
    desk.wait(lambda: desk.is_hidden("[data-breakdown] > .wrong"), "nothing is wrong any more")


def test_a_link_says_it_all_again_and_a_mend_is_tried_and_taken_back(desk: Browser, seamed: RunningService) -> None:
    desk.open("/what-if?all_prices=2&prices=beef-topside:35&yields=topside-seamed/topside-cap:8")
    desk.says("#said", "leave")
    assert [desk.seen(lever).get_attribute("value") for lever in ("#all-prices", TOPSIDE, CAP)] == ["2", "35", "8"]
    told = would(seamed, prices=[{"percent": "2"}, {"percent": "35", "ingredients": ["beef-topside"]}],
                 yields=[{"breakdown": "topside-seamed", "yields": [{"cut": "topside-cap", "yield": "0.08"}]}])
    assert rows(desk).keys() == told.keys()
    price = told["Grilled cap"]["mends"]["menu_price"]
    desk.run("document.querySelectorAll('#moved details').forEach((one) => { one.open = true; })")
    desk.click(f"[aria-label='Try: Sell it at {price}']")
    desk.says("#tried", f"Grilled cap at {price}")
    desk.wait(lambda: rows(desk)["Grilled cap"][1].startswith(("−", "+0.00")), "the dish is within its target")
    assert f"menu_prices=grilled-cap:{price}" in desk.driver.current_url
    desk.click("#tried button")
    desk.wait(lambda: rows(desk)["Grilled cap"][1].startswith("+"), "the dish is outside again")
    assert "menu_prices" not in desk.driver.current_url


def test_another_day_has_its_own_prices_to_begin_with(desk: Browser) -> None:
    desk.open("/what-if?as_of=2026-11-30")
    assert "16.00" in desk.text(f"label[for='{TOPSIDE[1:]}']")


def test_as_known_at_a_revision_it_answers_from_what_was_known_then(desk: Browser, seamed: RunningService) -> None:
    known_at = int(seamed.admin.read("/v1/dishes/grilled-cap")["revision"]) - 1
    desk.open(f"/what-if?all_prices=10&known_at={known_at}")
    desk.says("#said", "The menu goes from")
    assert rows(desk).keys() == would(seamed, prices=[{"percent": "10"}], known_at=known_at).keys()
    assert "Grilled cap" not in rows(desk)
    assert desk.seen("#moved tbody th a").get_attribute("href").endswith(f"?known_at={known_at}")


def test_from_a_dish_it_begins_with_that_dish_and_leads_back_to_it(desk: Browser, seamed: RunningService) -> None:
    desk.open("/what-if?dish=grilled-cap")
    assert desk.seen("#which-dish").get_attribute("value") == "grilled-cap"
    desk.wait(lambda: desk.seen("#set-price").get_attribute("placeholder") == "14", "its own price stands in the field")
    assert desk.seen(".back a").get_attribute("href") == f"{seamed.address}/dishes/grilled-cap"


def test_a_number_that_is_rubbed_out_leaves_the_slider_where_it_was(desk: Browser) -> None:
    slide(desk, TOPSIDE, "12")
    box = desk.seen(f"{TOPSIDE} + .exact input")
    box.send_keys(Keys.BACKSPACE * 2)
    assert (box.get_attribute("value"), box.get_attribute("aria-invalid")) == ("", "true")
    assert desk.seen(TOPSIDE).get_attribute("value") == "1", "the last number that stood there"


def test_it_is_worked_by_keyboard_alone(desk: Browser) -> None:
    tab_to(desk, TOPSIDE[1:])
    desk.press(Keys.ARROW_RIGHT * 3)
    desk.wait(lambda: "prices=beef-topside:3" in desk.driver.current_url, "three steps to the right are 3 %")
    assert desk.seen(TOPSIDE).get_attribute("aria-valuetext") == "3 %"


@needs_node
@pytest.mark.timeout(SECONDS_TO_INSTALL + 240)
@WINDOWS
def test_it_has_no_finding_fits_its_window_and_keeps_the_console_silent(
        open_browser: OpenBrowser, seamed: RunningService, admin_key: str, window: Window) -> None:
    browser = signed_in(open_browser(window), admin_key, "/what-if?prices=beef-topside:35")
    browser.says("#said", "leave")
    browser.run("document.querySelectorAll('main details').forEach((one) => { one.open = true; })")
    browser.picture("what-if")
    hold_to_accessibility(browser, "what-if")
    assert browser.run(WIDEST) <= 0
    assert browser.console() == []
