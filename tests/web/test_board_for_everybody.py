"""The board and a dish's page in a real browser: signing in and back, typing in the search, the line, the working, by
keyboard alone, at a phone's and a desk's size, in light and dark, on paper; nothing said in the console.

Sources: WCAG 2.2 levels A and AA as axe-core checks them, with its best practices; 1.4.10 (reflow) for a phone's width.
"""

from collections.abc import Iterator

import pytest
from selenium.webdriver.common.keys import Keys

from tests.node_packages import SECONDS_TO_INSTALL, needs_node
from tests.stories.running_service import RunningService
from tests.web.browser import DESK, DESK_DARK, Browser, Window, looked_at
from tests.web.conftest import OpenBrowser
from tests.web.test_prices_page_for_everybody import COLOURS, WIDEST, hold_to_accessibility, tab_to

WINDOWS = pytest.mark.parametrize("window", looked_at(DESK), ids=lambda window: window.name)
PALETTE = """
const probe = document.body.appendChild(document.createElement('i'));
const colours = ['ink', 'soft', 'accent'].map((name) => { probe.style.color = `var(--${name})`;
  return getComputedStyle(probe).color; });
probe.remove();
return colours;
"""
NAMES = "return [...document.querySelectorAll('main tbody tr')].filter((row) => !row.hidden).map((row) => row.cells[0].querySelector('a').textContent)"  # noqa: E501


def signed_in(browser: Browser, key: str, path: str = "/") -> Browser:
    """Open a page without a session, and sign in where that leads."""
    browser.driver.delete_all_cookies()
    browser.open(path)
    browser.write("#key", key)
    browser.click("form.sign-in button")
    browser.wait(lambda: not browser.all("form.sign-in"), "signed in")
    return browser


@pytest.fixture
def desk(open_browser: OpenBrowser, morning: RunningService, admin_key: str) -> Browser:
    return signed_in(open_browser(DESK), admin_key)


@pytest.fixture
def on_paper(desk: Browser) -> Iterator[Browser]:
    desk.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    yield desk
    desk.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {
        "media": "", "features": [{"name": "prefers-color-scheme", "value": "light"}]})


@needs_node
@pytest.mark.timeout(SECONDS_TO_INSTALL + 240)
@WINDOWS
def test_no_page_has_a_finding_and_none_is_wider_than_its_window(
        open_browser: OpenBrowser, morning: RunningService, admin_key: str, window: Window) -> None:
    browser = open_browser(window)
    browser.driver.delete_all_cookies()
    browser.open("/dishes/topside-roast")
    check(browser, "page-sign-in")
    signed_in(browser, admin_key)
    check(browser, "board")
    browser.open("/dishes/topside-roast")
    browser.seen("#chart svg")
    for summary in ("#history-table summary", ".contains summary"):
        if browser.all(summary):
            browser.click(summary)
    browser.click("#open-all")
    check(browser, "dish")
    browser.open("/dishes/no-such-dish")
    check(browser, "page-problem")


def check(browser: Browser, view: str) -> None:
    browser.picture(view)
    hold_to_accessibility(browser, view)
    assert browser.run(WIDEST) <= 0, view


def test_signing_in_leads_back_to_the_page_asked_for(
        open_browser: OpenBrowser, morning: RunningService, admin_key: str) -> None:
    browser = signed_in(open_browser(DESK), admin_key, "/dishes/braised-shin?as_of=2026-11-25")
    assert browser.text("h1") == "Braised shin"
    assert browser.driver.current_url.endswith("/dishes/braised-shin?as_of=2026-11-25")


def test_who_has_a_session_and_comes_by_a_link_from_elsewhere_goes_on_without_a_key(desk: Browser) -> None:
    """A strict cookie is not sent along from another site, such as this page that is none of ours."""
    desk.driver.get("data:text/html,<a href='" + desk.address + "/dishes/braised-shin'>shared</a>")
    desk.click("a")
    desk.says("h1", "Braised shin")


def test_the_board_answers_as_one_types_and_the_address_says_what_is_shown(desk: Browser) -> None:
    assert len(desk.run(NAMES)) == 5
    desk.write("#q", "roast top")
    desk.wait(lambda: desk.run(NAMES) == ["Topside roast"], "one row is left")
    desk.says("#found", "1 of 5 dishes")
    desk.wait(lambda: desk.driver.current_url.endswith("/?q=roast+top"), "the address says so")
    assert desk.is_hidden("table.within")
    desk.write("#q", "no such dish")
    desk.says("#found", "0 of 5 dishes")
    desk.press(*[Keys.BACKSPACE] * 12)
    desk.wait(lambda: len(desk.run(NAMES)) == 5, "all rows are back")
    assert desk.is_hidden("#found") or desk.text("#found") == ""


def test_a_section_is_chosen_with_the_words(desk: Browser) -> None:
    desk.choose("#section", "larder")
    desk.wait(lambda: desk.run(NAMES) == ["Egg mayonnaise"], "the larder's dish is left")
    assert desk.text("section:not([hidden]) .count") == "1"


def test_by_keyboard_alone_from_the_board_into_a_dish_s_working(
        open_browser: OpenBrowser, morning: RunningService, admin_key: str) -> None:
    browser = signed_in(open_browser(DESK), admin_key)
    browser.press(Keys.TAB)
    assert browser.focused == "skip"
    tab_to(browser, "q")
    browser.press("roast", Keys.TAB)
    browser.wait(lambda: browser.run(NAMES) == ["Topside roast"], "one row is left")
    for _ in range(10):
        if "/dishes/" in (browser.run("return document.activeElement.href ?? ''")):
            break
        browser.press(Keys.TAB)
    browser.press(Keys.ENTER)
    browser.says("h1", "Topside roast")
    tab_to(browser, "open-all")
    browser.press(Keys.ENTER)
    assert browser.run("return document.querySelectorAll('.working details:not([open])').length") == 0


def test_a_step_that_is_told_elsewhere_is_opened_where_its_link_leads(desk: Browser) -> None:
    desk.open("/dishes/topside-roast")
    link = desk.run("return document.querySelector('.working a[href^=\"#step-\"]').getAttribute('href')")
    desk.open(f"/dishes/topside-roast{link}")
    desk.driver.refresh()
    assert desk.seen(link).is_displayed()


def test_the_line_is_drawn_from_the_table_and_says_what_it_shows(desk: Browser) -> None:
    desk.open("/dishes/topside-roast")
    desk.seen("#chart svg")
    dots = desk.run("return [...document.querySelectorAll('#chart .dot title')].map((dot) => dot.textContent)")
    rows = desk.run("return [...document.querySelectorAll('#history-table tbody tr')].map("
                    "(row) => `${row.cells[0].textContent}: ${row.cells[1].textContent}`)")
    assert dots == [row for row in rows if not row.endswith("–")]
    heights = desk.run("return [...document.querySelectorAll('#chart .dot')].map((dot) => +dot.getAttribute('cy'))")
    costs = [float(row.rpartition(" ")[2]) for row in dots]
    assert sorted(range(len(costs)), key=lambda n: costs[n]) == sorted(range(len(costs)), key=lambda n: -heights[n])
    assert desk.run("return document.querySelector('#chart svg').getAttribute('aria-labelledby')") == (
        "history history-words")


def test_what_is_written_in_the_drawing_is_in_colours_of_the_palette(desk: Browser) -> None:
    desk.open("/dishes/topside-roast")
    desk.seen("#chart svg")
    written = set(desk.run(
        "return [...document.querySelectorAll('#chart text')].map((one) => getComputedStyle(one).fill)"))
    palette = set(desk.run(PALETTE))
    assert written
    assert written <= palette


def test_on_paper_the_figures_are_there_and_the_tools_are_not(on_paper: Browser) -> None:
    on_paper.open("/")
    assert on_paper.is_hidden(".top, .find")
    assert "Topside roast" in on_paper.text("table.outside")
    assert on_paper.run(COLOURS) == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]
    on_paper.picture("board-paper")
    on_paper.open("/dishes/topside-roast")
    assert on_paper.is_hidden(".top, .back, #unfold")
    on_paper.seen("#chart svg")
    on_paper.picture("dish-paper")


@pytest.mark.parametrize(("window", "dark"), [(DESK, False), (DESK_DARK, True)], ids=["light", "dark"])
def test_the_pages_follow_their_user_s_theme(open_browser: OpenBrowser, window: Window, dark: bool) -> None:
    browser = open_browser(window)
    browser.open("/")
    ground, ink = (sum(int(part) for part in told.strip("rgb()").split(",")) for told in browser.run(COLOURS))
    assert (ground < ink) == dark


@WINDOWS
def test_nothing_on_the_way_went_wrong_in_the_console(open_browser: OpenBrowser, window: Window) -> None:
    assert open_browser(window).console() == []
