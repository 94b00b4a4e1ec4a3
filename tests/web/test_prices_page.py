"""From a supplier's file to prices in force on the page, in a real browser: seen, filtered, ticked, accepted.

Source: the kitchen and its lists are invented (priced_kitchen); what is in force afterwards is read through the API.
"""

from pathlib import Path

import pytest
from selenium.webdriver.common.keys import Keys

from tests.stories.running_service import RunningService, a_key
from tests.web.browser import DESK, Browser
from tests.web.conftest import OpenBrowser
from tests.web.priced_kitchen import (
    BUTTER,
    CREAM,
    EGGS,
    SHIN,
    TOPSIDE,
    UNKNOWN,
    a_list,
    a_long_list,
    price_now,
    written,
)
from tests.web.prices_page import PricesPage


@pytest.fixture
def browser(open_browser: OpenBrowser) -> Browser:
    return open_browser(DESK)


@pytest.fixture
def page(browser: Browser, admin_key: str) -> PricesPage:
    return PricesPage(browser).enter(admin_key)


@pytest.fixture
def long_list(page: PricesPage, tmp_path: Path) -> str:
    """The review of a list of 135 rows."""
    return page.review(written(tmp_path, "december.csv", a_long_list()))


def test_the_key_is_asked_for_once_and_stays_out_of_the_page(page: PricesPage, admin_key: str) -> None:
    browser = page.browser
    assert browser.text("#who") == "admin"
    browser.driver.refresh()
    browser.seen("#lists")
    assert admin_key not in browser.driver.page_source
    assert browser.run("return document.cookie + JSON.stringify({...localStorage, ...sessionStorage})") == "{}"
    assert "key" not in browser.driver.current_url
    cookie = browser.driver.get_cookie("seamcost-session")
    assert cookie is not None
    assert (cookie["httpOnly"], cookie["sameSite"], cookie["path"]) == (True, "Strict", "/")
    assert "expiry" not in cookie


def test_the_review_shows_counts_the_menu_and_every_row(page: PricesPage, long_list: str) -> None:
    browser = page.browser
    assert browser.text("#review-title") == "Fenmoor Larder: december.csv"
    assert page.counts() == {"rows": 5 + UNKNOWN, "clean": 3, "questioned": 1, "blocked": UNKNOWN, "unchanged": 1}
    effect = [row.text for row in browser.all("#effect-table tbody tr")]
    assert "Topside roast" in effect[0]
    assert "leaves its target" in effect[0]
    assert "1 leaves the food-cost target" in browser.text("#effect-words")
    row = browser.text(f"#row-{TOPSIDE}")
    for told in ("10-1", "Topside PAD", "is Beef topside", "15,20", "15.20 / kg", "13.90", "+1.30", "+9.35", "clean"):
        assert told in row, told
    assert "unchanged" in browser.text(f"#row-{CREAM}")
    browser.picture("review")


def test_what_comes_from_a_file_or_the_kitchen_is_text_and_never_markup(page: PricesPage, tmp_path: Path) -> None:
    told = '<img src="x" onerror="document.title=1">'
    page.review(written(tmp_path, "markup.csv", a_list(f"99-0;=HYPERLINK(1)<b>{told}</b>;kg;1,00")))
    assert f"=HYPERLINK(1)<b>{told}</b>" in page.browser.text("#row-6")
    assert "Brown butter <b>&amp;</b> bread" in page.browser.text("#effect-table")
    assert page.browser.all("main b, main img") == []


def test_rows_are_filtered_ordered_and_shown_a_hundred_at_a_time(page: PricesPage, long_list: str) -> None:
    browser = page.browser
    assert page.rows() == list(range(1, 101))
    browser.click("#rows-more")
    browser.says("#rows-shown", "135 rows shown")
    assert page.rows() == list(range(1, 136))
    assert browser.focused == "TH"
    assert browser.run("return document.activeElement.closest('tr').id") == "row-101"
    page.show_only("standing", "questioned")
    assert page.rows() == [SHIN]
    page.show_only("standing", "")
    page.show_only("finding", "first_price")
    assert page.rows() == [EGGS]
    page.show_only("finding", "")
    page.show_only("sort", "change")
    assert page.rows()[:3] == [SHIN, TOPSIDE, BUTTER]
    assert browser.seen("th[data-sort=change]").get_attribute("aria-sort") == "descending"
    page.show_only("sort", "effect")
    assert page.rows()[0] == SHIN
    page.show_only("standing", "unchanged")
    page.show_only("finding", "unknown_item")
    assert browser.text("#rows-none") == "No row is like that."


def test_clean_rows_are_ticked_and_ticks_outlast_every_filter(page: PricesPage, long_list: str) -> None:
    browser = page.browser
    assert [page.is_ticked(row) for row in (TOPSIDE, BUTTER, EGGS)] == [True] * 3
    assert not page.is_ticked(SHIN)
    assert browser.all(f"#row-{CREAM} input, #row-6 input") == []
    page.tick(BUTTER)
    page.show_only("standing", "questioned")
    page.tick(SHIN)
    browser.write(f"#reason-{SHIN}", "Half the usual weight came")
    page.show_only("standing", "")
    assert not page.is_ticked(BUTTER)
    assert browser.seen(f"#reason-{SHIN}").get_attribute("value") == "Half the usual weight came"
    assert browser.text("#chosen") == "3 of 135 rows are ticked, 1 of them with a reason."
    browser.driver.back()
    browser.seen("#lists")
    browser.click(f'#earlier-table a[href="#{long_list}"]')
    browser.says("#accept", "Accept 3 rows")
    browser.click("#untick")
    browser.says("#accept", "Accept 0 rows")
    page.accept()
    browser.says("#decide-problem", "No row is ticked.")
    browser.click("#tick-clean")
    browser.says("#accept", "Accept 3 rows")
    assert page.is_ticked(BUTTER)


def test_a_list_that_is_dropped_is_accepted_with_a_reason_where_one_is_needed(
        page: PricesPage, priced: RunningService) -> None:
    browser = page.browser
    browser.wait(lambda: len(browser.all("#supplier option")) > 2, "the suppliers are there")
    browser.choose("#supplier", "fenmoor")
    page.start_on("2026-11-30")
    page.drop(a_list(), "monday.csv")
    browser.says("#said", "monday.csv is chosen.")
    assert browser.focused == "propose-button"
    browser.press(Keys.ENTER)
    browser.seen("#row-1")
    assert browser.focused == "review-title"
    page.tick(BUTTER)
    page.tick(SHIN)
    page.accept()
    browser.says("#decide-problem", f"Row {SHIN} needs a reason")
    assert browser.focused == f"reason-{SHIN}"
    assert browser.seen(f"#reason-{SHIN}").get_attribute("aria-invalid") == "true"
    browser.press("Agreed by telephone")
    assert browser.is_hidden("#decide-problem")
    revision = priced.admin.head_revision()
    page.accept()
    browser.says("#ended", "Accepted")
    assert browser.focused == "ended"
    browser.says("#ended", "What was left, and why")
    told = browser.text("#ended")
    for words in (f"as revision {revision + 1}", "3 rows are prices now", "2 were left", f"Row {SHIN} was taken with a "
                  "reason: Agreed by telephone", f"unticked: row {BUTTER}", "in force already: 1 row"):
        assert words in told, words
    browser.says(f"#row-{TOPSIDE}", f"taken as {revision + 1}-")
    assert "left" in browser.text(f"#row-{BUTTER}")
    assert browser.is_hidden("#decide")
    browser.picture("accepted")
    recorded = {code: price_now(priced.admin, code)[0] for code in ("beef-topside", "beef-shin", "butter", "egg")}
    assert {code: price["amount"] for code, price in recorded.items()} == {
        "beef-topside": "15.2", "beef-shin": "19.6", "butter": "6.4", "egg": "0.24"}
    assert {recorded[code]["effective_from"] for code in ("beef-topside", "beef-shin", "egg")} == {"2026-11-30"}
    browser.click(".back a")
    browser.says("#earlier-table", "monday.csv")
    browser.choose("#earlier-state", "accepted")
    browser.wait(lambda: len(browser.all("#earlier-table tbody tr")) == 1, "one list was accepted")


def test_the_very_same_file_is_recognised(page: PricesPage, tmp_path: Path) -> None:
    file = written(tmp_path, "again.csv", a_list("98-1;Once;kg;1,00"))
    first = page.review(file)
    page.browser.click(".back a")
    page.browser.seen("#lists")
    assert page.review(file) == first
    page.browser.says("#said", "This very file has come before")


def test_a_list_is_rejected_with_a_reason(page: PricesPage, tmp_path: Path) -> None:
    browser = page.browser
    page.review(written(tmp_path, "wrong.csv", a_list("97-1;Wrong;kg;1,00")))
    browser.click("#reject")
    assert browser.focused == "reject-reason"
    browser.click("#reject-form button.main")
    browser.says("#reject-reason-problem", "Say why.")
    browser.click("#reject-not")
    assert browser.is_hidden("#reject-form")
    assert browser.focused == "reject"
    browser.press(Keys.ENTER)
    browser.write("#reject-reason", "Last year's list")
    browser.press(Keys.ENTER)
    browser.says("#ended", "Last year's list")
    assert browser.focused == "ended"
    assert browser.is_hidden("#decide")


def test_whoever_may_only_read_is_offered_nothing_else(browser: Browser, priced: RunningService, tmp_path: Path,
                                                      admin_key: str) -> None:
    number = PricesPage(browser).enter(admin_key).review(written(tmp_path, "read.csv", a_list("96-1;Read;kg;1,00")))
    reader = PricesPage(browser).enter(a_key(priced.settings, "read"))
    assert "prices:write" in browser.text("#may-not-propose")
    assert browser.is_hidden("#propose-form")
    browser.click(f'#earlier-table a[href="#{number}"]')
    browser.seen("#row-1")
    assert "prices:approve" in browser.text("#may-not-approve")
    assert browser.is_hidden("#accept")
    assert browser.all("#rows-table input") == []
    assert reader.rows()[0] == 1


def test_nothing_on_the_way_went_wrong_in_the_console(browser: Browser) -> None:
    assert browser.console() == []
