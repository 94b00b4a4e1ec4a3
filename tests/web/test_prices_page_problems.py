"""What goes wrong on the page is told where it belongs, and nothing that was entered is lost. In a real browser."""

import re
from datetime import timedelta
from pathlib import Path

import pytest
from selenium.webdriver.common.by import By

from tests.stories.running_service import WEDNESDAY, RunningService, a_key
from tests.web.browser import DESK, Browser
from tests.web.conftest import OpenBrowser
from tests.web.priced_kitchen import BUTTER, SHIN, TOPSIDE, a_list, written
from tests.web.prices_page import PricesPage

NAMELESS = "Kol A;Kol B;Kol C;Kol D"
MARKUP_OF_TEXT = "try { document.body.innerHTML = '<b>x</b>'; return '' } catch (fault) { return fault.name }"


@pytest.fixture
def browser(open_browser: OpenBrowser) -> Browser:
    return open_browser(DESK)


@pytest.fixture
def page(browser: Browser, admin_key: str) -> PricesPage:
    return PricesPage(browser).enter(admin_key)


def accept_elsewhere(service: RunningService, number: str) -> None:
    answer = service.admin.post(f"/v1/price-proposals/{number}/acceptance", {})
    assert answer.status_code == 200, answer.text


def set_hours_later(service: RunningService, hours: int) -> None:
    """Move the clock of every worker."""
    clock = service.settings.clock_file
    assert clock is not None
    later = int(clock.read_text()) + timedelta(hours=hours) // timedelta(seconds=1)
    clock.with_suffix(".later").write_text(str(later))
    clock.with_suffix(".later").replace(clock)


def test_a_key_that_opens_nothing_is_told_beside_the_field(page: PricesPage) -> None:
    browser = page.browser
    browser.click("#sign-out button")
    browser.seen("#sign-in")
    browser.click("#sign-in-form button")
    browser.says("#key-problem", "Give your key.")
    page.sign_in("seam_00000000_made-up")
    browser.says("#key-problem", "The key is not valid: it is unknown, expired or revoked.")
    assert browser.focused == "key"
    assert browser.is_hidden("#lists, #review")
    browser.picture("wrong-key")


def test_what_is_not_chosen_is_asked_for_and_nothing_is_sent(page: PricesPage, priced: RunningService) -> None:
    browser = page.browser
    before = len(priced.admin.everything("/v1/price-proposals"))
    page.send()
    browser.says("#supplier-problem", "Choose whose list it is.")
    browser.says("#file-problem", "Choose the file.")
    assert browser.focused == "supplier"
    assert browser.seen("#supplier").get_attribute("aria-invalid") == "true"
    assert len(priced.admin.everything("/v1/price-proposals")) == before
    browser.picture("nothing-chosen")


def test_a_file_that_is_no_list_is_told_at_the_file_and_the_rest_stays(page: PricesPage, tmp_path: Path) -> None:
    browser = page.browser
    page.choose(written(tmp_path, "list.csv", b"\x89PNG\r\n\x1a\n" + bytes(200)))
    page.send()
    browser.seen("#file-problem")
    assert len(browser.text("#file-problem")) > 20
    assert browser.focused == "file"
    assert browser.seen("#supplier").get_attribute("value") == "fenmoor"
    assert browser.seen("#effective-from").get_attribute("value") == "2026-11-30"
    browser.picture("no-list")
    right = written(tmp_path, "right.csv", a_list("89-1;A;kg;1"))
    browser.driver.find_element(By.ID, "file").send_keys(str(right))
    page.send()
    browser.seen("#review #row-1")


def test_a_missing_day_is_told_at_the_day(page: PricesPage, tmp_path: Path) -> None:
    browser = page.browser
    page.choose(written(tmp_path, "no-day.csv", a_list("88-1;A;kg;1,00")), starts="")
    page.send()
    browser.says("#effective-from-problem", "Say from which day the list holds")
    assert browser.focused == "effective-from"
    page.start_on("2026-12-07")
    page.send()
    browser.says("#review-about", "7 December 2026")


def test_a_file_above_twenty_megabytes_is_refused_before_it_is_sent(page: PricesPage, tmp_path: Path) -> None:
    page.choose(written(tmp_path, "large.csv", b"x" * (20 * 1024 * 1024 + 1)))
    page.browser.says("#file-problem", "20 MB are read at most")
    page.send()
    assert page.browser.focused == "file"


def test_columns_that_cannot_be_told_are_asked_for_and_remembered(page: PricesPage, tmp_path: Path) -> None:
    browser = page.browser
    page.choose(written(tmp_path, "columns.csv", a_list("87-1;A;kg;1,00", head=NAMELESS)), supplier="holt")
    page.send()
    browser.seen("#columns")
    assert browser.text("#columns-problem")
    needed = [label.text for label in browser.all("#columns-asked label") if "(needed)" in label.text]
    assert "Price (needed)" in needed
    offered = [option.text for option in browser.all("#column-price option")]
    assert offered == ["Choose one", *NAMELESS.split(";")]
    browser.picture("columns")
    for means, header in (("item", "Kol A"), ("name", "Kol B"), ("unit", "Kol C"), ("price", "Kol D")):
        browser.choose(f"#column-{means}", header)
    page.send()
    browser.seen("#review #row-1")
    browser.click("#layout summary")
    assert re.search(r"price\s+Kol D", browser.text("#layout-words"))
    browser.click(".back a")
    browser.seen("#lists")
    page.choose(written(tmp_path, "columns-2.csv", a_list("86-1;A;kg;2,00", head=NAMELESS)), supplier="holt")
    page.send()
    browser.says("#review-title", "columns-2.csv")


def test_a_review_that_is_out_of_date_asks_for_another_look_and_keeps_what_was_typed(
        page: PricesPage, priced: RunningService, tmp_path: Path) -> None:
    browser = page.browser
    page.review(written(tmp_path, "stale.csv", a_list("85-1;A;kg;1,00")))
    page.tick(SHIN)
    browser.write(f"#reason-{SHIN}", "Dear, but right")
    page.tick(BUTTER)
    priced.admin.keep("/v1/ingredients/beef-topside/prices", {
        "supplier": "fenmoor", "amount": "14.00", "pack_quantity": "1", "pack_unit": "kg"})
    page.accept()
    browser.says("#decide-problem", "look again")
    browser.says("#out-of-date-words", f"row {TOPSIDE} was reviewed against has changed")
    browser.wait(lambda: browser.focused == "out-of-date", "the focus is where to look again")
    browser.picture("out-of-date")
    browser.click("#look")
    browser.says("#said", "Looked again")
    assert browser.is_hidden("#out-of-date")
    assert browser.focused == "review-title"
    assert browser.seen(f"#reason-{SHIN}").get_attribute("value") == "Dear, but right"
    assert not page.is_ticked(BUTTER)
    assert "14.00" in browser.text(f"#row-{TOPSIDE}")
    page.accept()
    browser.says("#ended", "Accepted")
    assert f"Row {SHIN} was taken with a reason: Dear, but right" in browser.text("#ended")


def test_whoever_comes_second_is_told_what_the_first_did(
        page: PricesPage, priced: RunningService, tmp_path: Path) -> None:
    number = page.review(written(tmp_path, "twice.csv", a_list(rows=("20-2;Butter;kg;6,50",))))
    accept_elsewhere(priced, number)
    page.accept()
    page.browser.says("#trouble", "The proposal was accepted by")
    page.browser.says("#ended", "Accepted")
    assert page.browser.is_hidden("#decide")


def test_a_session_that_ends_asks_for_the_key_and_goes_on_where_it_stood(
        page: PricesPage, priced: RunningService, tmp_path: Path, admin_key: str) -> None:
    browser = page.browser
    page.review(written(tmp_path, "long-day.csv", a_list(rows=("10-2;Shin;kg;190,00", "20-2;Butter;kg;6,55"))))
    page.tick(1)
    browser.write("#reason-1", "Whole carcases")
    set_hours_later(priced, 13)
    try:
        page.accept()
        browser.says("#session-ended", "The session has ended")
        assert browser.focused == "key"
        assert browser.is_hidden("#review")
        browser.picture("session-ended")
        page.sign_in(admin_key)
        browser.seen("#review")
        assert browser.seen("#reason-1").get_attribute("value") == "Whole carcases"
        page.accept()
        browser.says("#ended", "Accepted")
    finally:
        priced.move_to(WEDNESDAY)


def test_another_key_begins_anew(page: PricesPage, priced: RunningService, tmp_path: Path) -> None:
    browser = page.browser
    page.review(written(tmp_path, "other.csv", a_list(rows=("10-1;Topside;kg;99,00",))))
    page.tick(1)
    browser.write("#reason-1", "Somebody else's reason")
    set_hours_later(priced, 13)
    try:
        page.accept()
        browser.seen("#session-ended")
        page.sign_in(a_key(priced.settings, "read"))
        browser.seen("#review #row-1")
        assert browser.all("#rows-table input") == []
        assert browser.text("#who") == "read"
    finally:
        priced.move_to(WEDNESDAY)


def test_signing_out_leaves_nothing_in_the_page(page: PricesPage, tmp_path: Path) -> None:
    browser = page.browser
    page.review(written(tmp_path, "secret.csv", a_list("84-1;Secret;kg;1,00")))
    browser.click("#sign-out button")
    browser.seen("#sign-in")
    assert browser.driver.get_cookie("seamcost-session") is None
    assert "Secret" not in browser.driver.page_source
    browser.driver.back()
    browser.seen("#sign-in")
    assert "Secret" not in browser.driver.page_source


def test_without_its_scripts_the_form_signs_in_by_itself(page: PricesPage, admin_key: str) -> None:
    """A form's own `submit` passes no listener: it goes as it would where scripts are off."""
    browser = page.browser
    browser.click("#sign-out button")
    browser.write("#key", admin_key)
    browser.run("document.getElementById('sign-in-form').submit()")
    browser.says("#who", "admin")
    assert browser.driver.current_url == f"{browser.address}/prices"


def test_a_number_that_is_no_proposal_is_told_above_the_lists(page: PricesPage) -> None:
    page.browser.open("/prices#999999")
    page.browser.driver.refresh()
    page.browser.says("#trouble", "There is no price proposal '999999'.")
    page.browser.seen("#lists")


def test_the_policy_refuses_what_is_not_the_page_s_own(page: PricesPage) -> None:
    """And the check of the console can fail: what is refused is seen there."""
    assert page.browser.console() == []
    assert page.browser.run(MARKUP_OF_TEXT) == "TypeError"
    page.browser.run("const planted = document.createElement('script'); planted.append('document.title = 1');"
                     "document.head.append(planted)")
    assert page.browser.run("return document.title") == "Price lists - Seamcost"
    told = " ".join(page.browser.console())
    assert "TrustedHTML" in told
    assert "TrustedScript" in told
