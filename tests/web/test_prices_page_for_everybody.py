"""The page for everybody: by keyboard alone, at a phone's and a desk's size, in light and dark, on paper.

Sources: WCAG 2.2 levels A and AA as axe-core checks them, with its best practices; 1.4.10 (reflow) for a phone's width.
"""

from pathlib import Path

import pytest
from selenium.webdriver.common.keys import Keys

from tests.node_packages import SECONDS_TO_INSTALL, needs_node
from tests.stories.running_service import RunningService, a_key
from tests.web.browser import DESK, DESK_DARK, PHONE, Browser, Window, looked_at
from tests.web.conftest import OpenBrowser
from tests.web.priced_kitchen import SHIN, SUPPLIER, TOPSIDE, a_list, written
from tests.web.prices_page import PricesPage

WINDOWS = pytest.mark.parametrize("window", looked_at(DESK), ids=lambda window: window.name)
WIDEST = "return document.documentElement.scrollWidth - innerWidth"
COLOURS = "const style = getComputedStyle(document.body); return [style.backgroundColor, style.color]"


def hold_to_accessibility(browser: Browser, what: str) -> None:
    """Fail on any finding, and on text whose contrast could not be measured.

    But for text in drawings, whose ground the checker cannot see: it is in colours of the palette, which has a test of
    its own.
    """
    found = browser.accessibility()
    assert {"color-contrast", "label", "button-name"} & {rule["id"] for rule in found["passes"]}, what
    told = {rule["id"]: [node["target"] for node in rule["nodes"]][:5] for rule in found["violations"]}
    assert told == {}, what
    unsure = {rule["id"]: nodes[:5] for rule in found["incomplete"] if rule["impact"] in ("serious", "critical")
              and (nodes := [node["target"] for node in rule["nodes"] if not node["html"].startswith("<text")])}
    assert unsure == {}, what


def tab_to(browser: Browser, focus: str) -> None:
    """Go on with the Tab key alone until something has the focus."""
    for _ in range(60):
        if browser.focused == focus:
            return
        browser.press(Keys.TAB)
    raise AssertionError(f"the Tab key never reaches {focus}")


@needs_node
@pytest.mark.timeout(SECONDS_TO_INSTALL + 240)
@WINDOWS
def test_no_view_has_a_finding_and_none_is_wider_than_its_window(
        open_browser: OpenBrowser, priced: RunningService, admin_key: str, window: Window, tmp_path: Path) -> None:
    browser = open_browser(window)
    browser.open("/prices")
    browser.driver.delete_all_cookies()
    browser.driver.refresh()
    browser.seen("#sign-in")
    check(browser, "sign-in")
    page = PricesPage(browser).enter(admin_key)
    page.send()
    browser.seen("#supplier-problem")
    check(browser, "lists")
    page.choose(written(tmp_path, "columns.csv", a_list("99;A;kg;1,00", head="A;B;C;D")))
    page.send()
    browser.seen("#columns")
    check(browser, "columns-asked")
    number = page.review(written(tmp_path, f"{window.name}.csv", a_list(f"99-1;{window.name};kg;1,00")))
    page.tick(SHIN)
    page.accept()
    browser.seen("#decide-problem")
    browser.click("#reject")
    browser.click("#layout summary")
    check(browser, "review-questioned")
    browser.click("#reject-not")
    PricesPage(browser).enter(a_key(priced.settings, "read"))
    browser.click(f'#earlier-table a[href="#{number}"]')
    browser.seen("#row-1")
    check(browser, "review-of-a-reader")


def check(browser: Browser, view: str) -> None:
    browser.picture(view)
    hold_to_accessibility(browser, view)
    assert browser.run(WIDEST) <= 0, view


@needs_node
@pytest.mark.timeout(SECONDS_TO_INSTALL + 60)
def test_the_checker_would_find_a_fault(open_browser: OpenBrowser, admin_key: str) -> None:
    browser = open_browser(DESK)
    PricesPage(browser).enter(admin_key)
    browser.run("document.querySelector('label[for=supplier]').remove();"
                "document.querySelector('#propose-title').style.color = '#ddd'")
    found = {rule["id"] for rule in browser.accessibility()["violations"]}
    assert {"select-name", "color-contrast"} <= found


@pytest.mark.parametrize(("window", "dark"), [(DESK, False), (DESK_DARK, True)], ids=["light", "dark"])
def test_the_page_follows_its_user_s_theme(open_browser: OpenBrowser, window: Window, dark: bool) -> None:
    browser = open_browser(window)
    browser.open("/prices")
    ground, ink = (sum(int(part) for part in told.strip("rgb()").split(",")) for told in browser.run(COLOURS))
    assert (ground < ink) == dark


def test_by_keyboard_alone_a_file_becomes_prices(open_browser: OpenBrowser, admin_key: str, tmp_path: Path) -> None:
    """Every key goes where the focus is; only the browser's own window for choosing a file is passed by."""
    browser = open_browser(DESK)
    browser.driver.delete_all_cookies()
    browser.open("/prices")
    browser.driver.refresh()
    browser.seen("#sign-in")
    tab_to(browser, "key")
    browser.press(admin_key, Keys.ENTER)
    browser.wait(lambda: browser.focused == "lists-title", "the lists have the focus")
    browser.wait(lambda: len(browser.all("#supplier option")) > 2, "the suppliers are there")
    tab_to(browser, "supplier")
    browser.press("Fen")
    assert browser.seen("#supplier").get_attribute("value") == SUPPLIER
    browser.press(Keys.TAB)
    assert browser.focused == "effective-from"
    browser.press("12122026")  # the same whether the browser's language puts the day or the month first
    assert browser.seen("#effective-from").get_attribute("value") == "2026-12-12"
    tab_to(browser, "file")
    browser.seen("#file").send_keys(str(written(tmp_path, "keys.csv", a_list("99-2;By keys;kg;1,00"))))
    tab_to(browser, "propose-button")
    browser.press(Keys.ENTER)
    browser.seen("#row-1")
    assert browser.focused == "review-title"
    tab_to(browser, "standing")
    browser.press("q")
    browser.wait(lambda: browser.run("return document.querySelector('#rows-table tbody').rows.length") == 1, "filtered")
    browser.press(Keys.HOME)
    browser.wait(lambda: browser.run("return document.querySelector('#rows-table tbody').rows.length") > 1, "all again")
    untick_by_keyboard(browser, TOPSIDE)
    untick_by_keyboard(browser, SHIN)
    browser.press(Keys.TAB)
    assert browser.focused == f"reason-{SHIN}"
    browser.press("Agreed")
    tab_to(browser, "accept")
    browser.press(Keys.ENTER)
    browser.says("#ended", "Accepted")
    assert browser.focused == "ended"
    browser.says("#ended", f"unticked: row {TOPSIDE}")
    browser.says("#ended", f"Row {SHIN} was taken with a reason: Agreed")


def untick_by_keyboard(browser: Browser, row: int) -> None:
    """Go to a row's tick by Tab, and change it by the space bar; what has the focus is never hidden behind a bar."""
    in_row = f"return document.activeElement.closest('#row-{row}') !== null"
    for _ in range(60):
        if browser.run(in_row):
            break
        browser.press(Keys.TAB)
    assert browser.run("const box = document.activeElement.getBoundingClientRect();"
                       "const on = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);"
                       "return on === document.activeElement")
    browser.press(Keys.SPACE)


@pytest.mark.parametrize("window", [DESK, PHONE], ids=lambda window: window.name)
def test_what_is_dropped_beside_the_field_does_not_replace_the_page(
        open_browser: OpenBrowser, admin_key: str, window: Window) -> None:
    browser = open_browser(window)
    PricesPage(browser).enter(admin_key)
    stopped = browser.run("const event = new DragEvent('drop', {dataTransfer: new DataTransfer(), bubbles: true,"
                          "cancelable: true}); document.body.dispatchEvent(event); return event.defaultPrevented")
    assert stopped is True


def test_on_paper_the_review_is_there_and_its_tools_are_not(
        open_browser: OpenBrowser, admin_key: str, tmp_path: Path) -> None:
    browser = open_browser(DESK_DARK)
    PricesPage(browser).enter(admin_key).review(written(tmp_path, "paper.csv", a_list("99-3;Paper;kg;1,00")))
    browser.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        assert browser.is_hidden(".top, .tools, #decide, #rows-more, .back")
        assert "Topside PAD" in browser.text("#rows-table")
        ground, ink = (told for told in browser.run(COLOURS))
        assert (ground, ink) == ("rgb(255, 255, 255)", "rgb(0, 0, 0)")
        browser.picture("paper")
    finally:
        browser.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {
            "media": "", "features": [{"name": "prefers-color-scheme", "value": "dark"}]})


@WINDOWS
def test_nothing_on_the_way_went_wrong_in_the_console(open_browser: OpenBrowser, window: Window) -> None:
    assert open_browser(window).console() == []
