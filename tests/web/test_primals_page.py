"""The primals in a real browser: from the list to a cutting sheet, its picture and its chart, on one sheet of paper, by
keyboard, at a phone's and a desk's size, in light and dark; nothing said in the console.

Sources: the API's own answers; ISO 32000-1, 7.7.3, for the pages of a PDF; WCAG 2.2 levels A and AA as axe-core checks
them, and 1.4.10 (reflow).
"""

import base64
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
import requests
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.common.print_page_options import PrintOptions

from service.cli.demo_kitchen import demo_requests
from tests.node_packages import SECONDS_TO_INSTALL, needs_node
from tests.stories.running_service import WEDNESDAY, RunningService
from tests.web.browser import DESK, PHONE_DARK, Browser, Window, looked_at
from tests.web.conftest import OpenBrowser
from tests.web.test_prices_page_for_everybody import WIDEST, hold_to_accessibility, tab_to

WINDOWS = pytest.mark.parametrize("window", looked_at(PHONE_DARK), ids=lambda window: window.name)
TOPSIDE, LONG = "/primals/beef-topside", "/primals/whole-hind"
PAPERS = {"A4": (21.0, 29.7), "Letter": (21.59, 27.94)}
"""Centimetres."""

SCROLL_NOTHING = """
document.styleSheets[0].insertRule(`.wide table, .wide svg, .wide tr > *, .wide .key { min-width: 0 !important;
  padding: .5rem 2px !important; white-space: normal !important; overflow-wrap: anywhere; table-layout: fixed }`)
"""
"""The checker cannot tell what text stands on that is scrolled out of its region."""

A_STEP = "Follow the seam with the point of the knife, the meat hanging, and free the muscle down to the bone. "
OUTPUTS: list[dict[str, Any]] = [
    {"cut": f"hind-{number}", "name": f"Muscle {number} of a hind (M. longissimus et cetera)", "role": "main",
     "uses": ["roast", "braise"], "expected_yield": "0.05", "market_value": "14", "portion_weight_kg": "0.18"}
    for number in range(18)]


DISHES = (("roast", "Roast topside", "topside-semimembranosus", "0.19", "13.00"),
          ("cold-roast", "Cold roast topside, horseradish cream, watercress", "topside-adductor", "0.15", "12.00"),
          ("cap-steak", "Cap steak", "cap-steak", "0.17", "24.00"), ("grilled", "Cap", "topside-cap", "0.2", "15.00"),
          ("ragu", "Ragu", "topside-mince", "0.12", "14.00"), ("pie", "Pie", "topside-dice", "0.18", "16.00"))


def load(service: RunningService) -> None:
    """The topside of the demo kitchen with dishes of its own, and a hind of eighteen muscles that has no price."""
    for asked in demo_requests(WEDNESDAY):
        if re.search("settings|suppliers/[a-z]+$|topside|cap-trimmed", asked.path) and "dishes" not in asked.path:
            answer = service.admin.ask(asked.method, asked.path, dict(asked.body))
            assert answer.status_code in (200, 201), answer.text
    for code, name, cut, quantity, price in DISHES:
        service.admin.keep(f"/v1/dishes/{code}", {
            "name": name, "portions": "1", "menu_price": price,
            "lines": [{"cut": cut, "quantity": quantity, "unit": "kg"}]})
    service.admin.keep("/v1/ingredients/whole-hind", {
        "name": "Whole hind", "kind": "primal", "base_unit": "kg", "allergens": [],
        "conversions": [{"unit": "each", "to_quantity": "62", "to_unit": "kg"}]})
    service.admin.keep("/v1/breakdowns/hind-seamed", {
        "name": "Hind, seamed", "input": {"ingredient": "whole-hind"}, "method": "weight", "yields_from": "tests",
        "outputs": OUTPUTS, "steps": [A_STEP] * 16})


@pytest.fixture(scope="module")
def priced(service: RunningService) -> RunningService:
    load(service)
    return service


@pytest.fixture
def desk(open_browser: OpenBrowser, admin_key: str) -> Browser:
    return signed_in(open_browser(DESK), admin_key, "/primals")


@pytest.fixture
def on_paper(desk: Browser) -> Iterator[Browser]:
    desk.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    yield desk
    desk.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {
        "media": "", "features": [{"name": "prefers-color-scheme", "value": "light"}]})


def signed_in(browser: Browser, key: str, path: str) -> Browser:
    """The page, signed in anew."""
    browser.driver.delete_all_cookies()
    browser.open(path)
    browser.write("#key", key)
    browser.press(Keys.ENTER)
    browser.wait(lambda: not browser.all("form.sign-in"), "signed in")
    return browser


def printed_pages(browser: Browser, paper: str) -> int:
    width, height = PAPERS[paper]
    options = PrintOptions()
    options.page_width, options.page_height = width, height
    pdf = base64.b64decode(browser.driver.print_page(options))
    assert pdf.startswith(b"%PDF-")
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def drawn(browser: Browser, selector: str) -> int:
    return len(browser.all(selector))


def test_from_the_list_to_the_sheet_of_a_primal_and_of_one_of_its_cuts(desk: Browser, priced: RunningService) -> None:
    assert [one.text for one in desk.all("h2 a")] == ["Beef topside", "Whole hind"]
    desk.click("h2 a")
    sheet = priced.admin.read("/v1/breakdowns/topside-seamed/cutting-sheet")
    rows = {row.find_element("tag name", "th").text: row.text for row in desk.all(".sheet tbody tr:not(.role)")}
    for output in sheet["outputs"]:
        told = rows[output["name"]]
        for figure in ("kg_per_piece", "cost_per_kg", "cost_per_portion"):
            assert output[figure] is None or output["role"] == "loss" or output[figure] in told, (output["cut"], figure)
    desk.click(".ways-down li:nth-child(2) a")
    desk.says(".sheet h2", "Topside cap, trimmed into steaks")
    assert desk.text("h1") == "Beef topside"


def test_the_picture_has_a_stream_for_every_row_as_wide_as_its_money(desk: Browser) -> None:
    desk.open(TOPSIDE)
    desk.seen("#flow svg")
    told = json.loads(desk.run("""
        return JSON.stringify([...document.querySelectorAll("#flow-streams tbody tr")]
          .map((row) => Number(row.cells[2].textContent)).filter((money) => money > 0))"""))
    widths = json.loads(desk.run("""
        return JSON.stringify([...document.querySelectorAll("#flow .stream")]
          .map((path) => Number(path.getAttribute("stroke-width"))))"""))
    assert len(widths) == len(told) > 20
    of_one = max(widths) / max(told)
    for money, width in zip(told, widths, strict=True):
        assert width == pytest.approx(max(0.8, money * of_one), rel=1e-6)
    assert desk.seen("#flow svg").get_attribute("aria-labelledby") == "flow-title flow-words"
    desk.click("#flow-table summary")
    desk.says("#flow-places", "Paid for loss")


def test_another_output_s_tests_are_drawn_when_it_is_chosen_by_keyboard(desk: Browser) -> None:
    desk.open(TOPSIDE)
    desk.seen("#yield-chart svg")
    tests = drawn(desk, "#yield-table tr.test")
    assert drawn(desk, "#yield-chart .point") == tests == 7
    before = desk.text("#yield-words")
    tab_to(desk, "output")
    desk.press(Keys.HOME)
    desk.says("#yield-words", "Topside cap")
    assert desk.text("#yield-words") != before
    assert drawn(desk, "#yield-chart .point") == tests


def test_a_test_outside_the_limits_is_drawn_in_another_shape_and_said_in_words(desk: Browser) -> None:
    desk.open(TOPSIDE)
    desk.seen("#yield-chart .point.outside")
    shapes = {point.get_attribute("class"): point.get_attribute("d") for point in desk.all("#yield-chart .point")}
    assert len(set(shapes.values())) == len(shapes) == 2
    assert "1 outside them" in desk.text("#yield-words")
    desk.click("#yield-table summary")
    desk.says("#yield-table td[data-mark=outside]", "outside")


def test_what_a_point_of_lean_costs_a_year_is_asked_of_the_api_and_a_slip_is_told(desk: Browser, priced: RunningService
                                                                                 ) -> None:
    desk.open(TOPSIDE)
    desk.write("#volume", "a lot")
    desk.press(Keys.ENTER)
    desk.says("#lean-said", "as a number above nil")
    assert desk.seen("#volume").get_attribute("value") == "a lot"
    desk.write("#volume", "1200")
    desk.press(Keys.ENTER)
    told = priced.admin.read("/v1/breakdowns/topside-seamed/lean-loss?input_kg_per_year=1200")
    desk.says("#lean-said", told["in_words"])


@pytest.mark.parametrize("paper", PAPERS)
def test_the_cutting_sheet_fills_one_page_and_nothing_else_is_printed(desk: Browser, paper: str) -> None:
    for path in (TOPSIDE, f"{TOPSIDE}?breakdown=cap-trimmed", LONG):
        desk.open(path)
        desk.seen("#print")
        assert printed_pages(desk, paper) == 1, path


def test_on_paper_the_sheet_stands_alone_and_its_text_is_no_smaller_than_7_points(on_paper: Browser) -> None:
    for path in (TOPSIDE, LONG):
        on_paper.open(path)
        shown = [one.get_attribute("class") for one in on_paper.all("main > *, .top, .foot") if one.is_displayed()]
        assert [name.split()[0] for name in shown] == ["sheet"]
        sizes = on_paper.run("""return [...document.querySelectorAll(".sheet *")].filter((one) => one.offsetParent)
            .map((one) => parseFloat(getComputedStyle(one).fontSize) * 0.75)""")
        assert min(sizes) >= 6.99
        on_paper.picture("primal-on-paper")


def test_without_a_price_the_page_says_what_is_missing_and_still_shows_the_sheet(desk: Browser) -> None:
    desk.open(LONG)
    desk.says("section ul.note", "price")
    desk.says(".piece", "without a price")
    assert desk.all("#flow") == []
    desk.says(".sheet", "Muscle 17 of a hind")


def test_pages_that_are_not_there_are_pages_and_say_what_there_is(desk: Browser, priced: RunningService) -> None:
    cookies = {one["name"]: one["value"] for one in desk.driver.get_cookies()}
    for path, words in (("/primals/salt", "salt"), ("/primals/none", "no ingredient"),
                        (f"{TOPSIDE}?breakdown=none", "topside-seamed"), (f"{TOPSIDE}?breakdown=No!", "breakdown")):
        answer = requests.get(priced.address + path, cookies=cookies, timeout=30)
        assert answer.status_code in (404, 422)
        assert answer.headers["Content-Type"].startswith("text/html")
        assert words in answer.text


@needs_node
@pytest.mark.timeout(SECONDS_TO_INSTALL + 240)
@WINDOWS
def test_no_page_has_a_finding_none_is_wider_than_its_window_and_the_console_is_silent(
        open_browser: OpenBrowser, admin_key: str, window: Window) -> None:
    browser = signed_in(open_browser(window), admin_key, "/primals")
    both = [("primals", "/primals"), ("primal", TOPSIDE)]
    for name, path in [*both, ("primal-untested", LONG)] if window.theme == "light" else both:
        browser.open(path)
        browser.seen("h1")
        browser.run("for (const one of document.querySelectorAll('details')) one.open = arguments[0]", window == DESK)
        browser.picture(name)
        assert browser.run(WIDEST) <= 0, name
        browser.run(SCROLL_NOTHING)
        hold_to_accessibility(browser, name)
    assert browser.console() == []
