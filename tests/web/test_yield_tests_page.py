"""Recording a yield test in a real browser: the balance while typing, what is out of line, what is kept, what is sent
once, and what the test then did.

Sources: the API's own answers; sums by hand beside their checks; WCAG 2.2 levels A and AA as axe-core checks them. The
kitchen is invented.
"""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import floor
from random import Random
from typing import Any

import pytest
from selenium.webdriver.common.keys import Keys

from tests.node_packages import SECONDS_TO_INSTALL, needs_node
from tests.stories.running_service import RunningService, a_key
from tests.web.block_kitchen import CODE, STEAKS, TRIED, record_block
from tests.web.browser import DESK, PHONE, PHONE_DARK, Browser, Window, looked_at
from tests.web.conftest import OpenBrowser
from tests.web.test_prices_page_for_everybody import WIDEST, hold_to_accessibility, tab_to

WINDOWS = pytest.mark.parametrize("window", looked_at(PHONE_DARK), ids=lambda window: window.name)
PAGE, TO_GO_WRONG = f"/yield-tests?breakdown={CODE}", f"/yield-tests?breakdown={TRIED}"
GOOD = ("1.38", "4.28", "0.64", "0.20")
"""Pounds of 6.66: in line with the tests before."""


@pytest.fixture(scope="module")
def block(priced: RunningService) -> RunningService:
    record_block(priced.admin)
    return priced


@pytest.fixture
def desk(open_browser: OpenBrowser, block: RunningService, admin_key: str) -> Browser:
    return at_the_block(open_browser(DESK), admin_key)


def at_the_block(browser: Browser, key: str, path: str = PAGE) -> Browser:
    """Signed in, before an empty form."""
    browser.open("/yield-tests")
    browser.run("sessionStorage.clear()")
    browser.driver.delete_all_cookies()
    browser.open(path)
    browser.write("#key", key)
    browser.press(Keys.ENTER)
    ready(browser)
    return browser


def ready(browser: Browser) -> None:
    browser.seen("#test[data-ready]")


def weigh(browser: Browser, paid: str, *weights: str) -> None:
    browser.write("#input_weight", paid)
    for number, weight in enumerate(weights):
        browser.write(f"#w-{number}", weight)


def is_recorded(browser: Browser) -> None:
    """Wait for the page that tells what the test did."""
    browser.wait(lambda: "&test=" in browser.driver.current_url, "it is recorded")
    browser.says("h1", "test of Wed 25 Nov 2026")


def recorded(service: RunningService, code: str = CODE) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = service.admin.everything(f"/v1/breakdowns/{code}/yield-tests")
    return rows


@needs_node
@pytest.mark.timeout(SECONDS_TO_INSTALL + 240)
@WINDOWS
def test_no_view_has_a_finding_and_none_is_wider_than_its_window(
        open_browser: OpenBrowser, block: RunningService, admin_key: str, window: Window) -> None:
    browser = at_the_block(open_browser(window), admin_key, TO_GO_WRONG)
    browser.picture("test-empty")
    weigh(browser, "6.66", "1.90", "4.10", "0.20")
    browser.says("#w-0-warning", "more than is expected")
    browser.picture("test-going")
    browser.click("#record")
    browser.says("#trouble", "Skin, sinew is not weighed")
    check(browser, "test-refused")
    browser.click("[data-for=w-3]")
    browser.click("#record")
    browser.seen("#confirm")
    check(browser, "test-confirm")
    browser.wait(lambda: tick(browser), "it can be ticked once it was seen a while")
    browser.click("#record")
    is_recorded(browser)
    check(browser, "test-effect-wrong")
    browser.open("/yield-tests")
    check(browser, "test-choose")
    assert browser.console() == []


def check(browser: Browser, view: str) -> None:
    browser.picture(view)
    hold_to_accessibility(browser, view)
    assert browser.run(WIDEST) <= 0, view


def tick(browser: Browser) -> bool:
    browser.click("#confirmed")
    return browser.seen("#confirmed").is_selected()


def test_the_balance_runs_along_exactly_and_says_what_is_left(desk: Browser) -> None:
    """By hand: 6.66 - 1.38 - 4.28 = 1.00, 15.0 %; less 0.64 and 0.20 leaves 0.16, 2.4 %."""
    assert desk.text("#b-words") == "Start with the weight paid for."
    weigh(desk, "6.66", *GOOD[:2])
    desk.says("#b-words", "1.000 lb left on the block, 2 outputs are to be weighed.")
    assert [desk.text(f"#b-{one}") for one in ("name", "left", "percent")] == ["Left to weigh", "1.000 lb", "15.0 %"]
    desk.write("#w-2", "0.64")
    desk.write("#w-3", ".20")
    desk.says("#b-words", "0.160 lb, 2.4 % not accounted for: usually up to ")
    assert desk.seen("#balance").get_attribute("data-state") == "good"
    desk.write("#opened_weight", "6,56")
    desk.says("#b-words", "0.160 lb, 2.4 % not accounted for, 0.100 lb of it drained off: usually")
    desk.write("#w-1", "5.28")
    desk.says("#b-words", "More came off than lay on the block: 0.940 lb too much. Weigh again.")


WORK_OUT = """
const [asked, done] = arguments;
import('/static/yield_tests/weights.js').then(({ read, plain, inWords, percent }) => done(asked.map(([part, whole]) => {
  const [of, all] = [read(part, 'kg').value, read(whole, 'kg').value];
  return [plain(of), inWords(of - all, 'kg'), percent(of - all, all, 2)];
})));
"""


def test_the_page_reckons_as_a_decimal_library_does_to_the_last_digit_and_on_every_tie(desk: Browser) -> None:
    """Against Python's decimal module, half away from zero, over what scales show and over what they never do."""
    draw = Random(2026)
    sizes = (10, 100, 1_000, 10**6, 10**12)
    asked = [[f"{Decimal(draw.randrange(1, draw.choice(sizes)) * draw.choice((1, 5, 500))).scaleb(-6):f}"
              for _ in range(2)] for _ in range(400)]
    for (part, whole), told in zip(asked, desk.driver.execute_async_script(WORK_OUT, asked), strict=True):
        off = Decimal(part) - Decimal(whole)
        share = Fraction(off) / Fraction(Decimal(whole)) * 100
        units = floor(abs(share) * 100 + Fraction(1, 2)) * (1 if share >= 0 else -1)
        assert told == [f"{Decimal(part).normalize():f}", f"{shown(off.quantize(Decimal('0.001'), ROUND_HALF_UP))} kg",
                        shown(Decimal(units).scaleb(-2))]


def shown(value: Decimal) -> str:
    """With a minus as long as a plus, and never minus zero."""
    return f"{value if value else abs(value):f}".replace("-", "−")


def test_a_number_that_cannot_be_told_is_asked_for_and_stays_as_it_was_typed(desk: Browser) -> None:
    weigh(desk, "1,250", "1.38x")
    desk.press(Keys.TAB)
    desk.says("#input_weight-problem", "could be 1250 or 1.250")
    desk.says("#w-0-problem", "is no weight")
    assert [desk.seen(one).get_attribute("value") for one in ("#input_weight", "#w-0")] == ["1,250", "1.38x"]
    desk.choose("#unit", "kg")
    desk.says("#b-input", "1.250 kg")
    desk.wait(lambda: desk.is_hidden("#input_weight-problem"), "in kilograms it is a decimal comma")


def test_an_empty_field_is_not_zero_and_the_summary_leads_to_it(desk: Browser, block: RunningService) -> None:
    before = len(recorded(block))
    weigh(desk, "6.66", *GOOD[:3])
    desk.click("#record")
    desk.says("#trouble", "Not recorded: one thing to look at")
    assert desk.focused == "trouble"
    desk.click("#trouble a")
    assert desk.focused == "w-3"
    assert desk.seen("#w-3").get_attribute("aria-invalid") == "true"
    desk.write("#w-0", "1.39")
    desk.press(Keys.TAB)
    desk.says("#b-words", "0.350 lb left")
    desk.wait(lambda: "0.350 lb" in said(desk), "judged")
    desk.says("#w-3-problem", "Skin, sinew is not weighed")
    desk.click("[data-for=w-3]")
    assert desk.seen("#w-3").get_attribute("value") == "0"
    assert len(recorded(block)) == before


def test_by_keyboard_alone_a_test_is_recorded_and_tells_what_it_did(desk: Browser, block: RunningService) -> None:
    before, dishes = recorded(block), {row["dish"]: row for row in block.admin.everything("/v1/dish-costs")}
    desk.open("/yield-tests")
    desk.run("arguments[0].focus()", desk.seen(f"a[href='{PAGE}']"))
    desk.press(Keys.ENTER)
    ready(desk)
    tab_to(desk, "butcher")
    desk.press("block 7")
    tab_to(desk, "input_weight")
    desk.press("6.66", Keys.ENTER, "6.60", Keys.ENTER, "14.5")
    for weight in ("1.36", "4.30", "0.64", "0.20"):
        desk.press(Keys.ENTER, weight)
    tab_to(desk, "record")
    desk.press(Keys.ENTER)
    is_recorded(desk)
    test = recorded(block)[0]
    assert len(recorded(block)) == len(before) + 1
    assert {name: test[name] for name in ("unit", "input_weight", "opened_weight", "minutes", "pieces", "butcher")} == {
        "unit": "lb", "input_weight": "6.66", "opened_weight": "6.6", "minutes": "14.5", "pieces": 1,
        "butcher": "block 7"}
    assert [one["weight"] for one in test["outputs"]] == ["1.36", "4.3", "0.64", "0.2"]
    desk.picture("test-effect")
    shown = desk.text("main")
    assert "0.160 lb, 2.40 % of what was paid for, is not accounted for; 0.060 lb (0.90 %) of it drained off" in shown
    after = {row["dish"]: row for row in block.admin.everything("/v1/dish-costs")}
    moved = [code for code in after if after[code]["food_cost"] != dishes[code]["food_cost"]]
    assert set(moved) == {"chump-mint", "lamb-stew"}
    for code in moved:
        row = desk.run("return arguments[0].closest('tr').textContent", desk.seen(f"a[href='/dishes/{code}']"))
        assert dishes[code]["food_cost"] + f" {dishes[code]['food_cost_percent']} %" in row
        assert after[code]["food_cost"] + f" {after[code]['food_cost_percent']} %" in row
    yields = block.admin.read(f"/v1/breakdowns/{CODE}/yields")
    for output in yields["outputs"]:
        assert output["yield"] in shown
    for said in yields["reading"]:
        assert said["text"] in shown
    desk.click("a[href*='/primals/']")
    desk.says("#yields-title", "yields")


def test_what_is_out_of_line_is_confirmed_and_a_double_tap_confirms_nothing(
        desk: Browser, block: RunningService) -> None:
    """A pound of 6.66 was forgotten: 15 % more is in no output."""
    before = len(recorded(block, TRIED))
    desk.open(TO_GO_WRONG)
    ready(desk)
    weigh(desk, "6.66", "1.38", "3.28", "0.64", "0.20")
    desk.says("#w-1-warning", "3.280 lb (49.25 %) is less than is expected, at least")
    desk.says("#b-words", "Was a weight forgotten or misread?")
    desk.wait(lambda: "17.4 % not accounted for" in said(desk) and "lean goes into the bin" in said(desk), "read out")
    desk.run("const button = document.getElementById('record'); button.click(); button.click();")
    desk.seen("#confirm")
    desk.run("document.getElementById('record').click(); document.getElementById('confirmed').click();")
    assert not desk.seen("#confirmed").is_selected()
    desk.says("#confirm-list", "1.160 lb of the input (17.42 %) is in no output")
    assert "unaccounted_confirmed" not in desk.text("#confirm")
    assert len(recorded(block, TRIED)) == before
    desk.wait(lambda: tick(desk), "it can be ticked once it was seen a while")
    desk.write("#w-1", "3.30")
    assert desk.is_hidden("#confirm")
    desk.click("#record")
    desk.says("#confirm-list", "1.140 lb of the input")
    desk.wait(lambda: tick(desk), "these weights are confirmed anew")
    desk.click("#record")
    is_recorded(desk)
    assert len(recorded(block, TRIED)) == before + 1
    assert "out of line" in desk.text("main")


def said(browser: Browser) -> str:
    return str(browser.run("return document.getElementById('said').textContent"))


LOSE_THE_ANSWER = """
const real = window.fetch;
window.sent = [];
window.fetch = async (path, asked) => {
  const answer = await real(path, asked);
  if (asked.method !== 'POST' || path.endsWith('/check')) return answer;
  window.sent.push(asked.headers['Idempotency-Key']);
  if (window.sent.length > 1) return answer;
  throw new TypeError('network');
};
"""


def test_an_answer_that_is_lost_and_a_second_try_record_once(desk: Browser, block: RunningService) -> None:
    before = len(recorded(block))
    weigh(desk, "6.66", *GOOD)
    desk.run(LOSE_THE_ANSWER)
    desk.click("#record")
    desk.says("#trouble", "however often it is sent, it is recorded once")
    assert len(recorded(block)) == before + 1
    desk.click("#record")
    is_recorded(desk)
    assert len(recorded(block)) == before + 1
    desk.open(PAGE)
    ready(desk)
    assert desk.seen("#w-0").get_attribute("value") == ""


def test_what_changed_after_an_answer_was_lost_is_not_taken_for_what_was_recorded(
        desk: Browser, block: RunningService) -> None:
    before = len(recorded(block))
    weigh(desk, "6.66", *GOOD)
    desk.run(LOSE_THE_ANSWER)
    desk.click("#record")
    desk.says("#trouble", "Not known to be recorded")
    desk.write("#w-0", "1.40")
    desk.click("#record")
    desk.says("#trouble", "It was recorded at the first attempt")
    assert len(recorded(block)) == before + 1
    assert recorded(block)[0]["outputs"][0]["weight"] == "1.38"
    assert desk.seen("#trouble a").get_attribute("href").endswith(f"&test={recorded(block)[0]['id']}")
    desk.click("#record")
    is_recorded(desk)
    assert recorded(block)[0]["outputs"][0]["weight"] == "1.4"
    assert len(recorded(block)) == before + 2


def test_what_is_typed_outlives_the_session_and_the_page(desk: Browser, admin_key: str) -> None:
    weigh(desk, "6.66", *GOOD)
    desk.write("#note", "second <b>leg</b> of the day")
    desk.driver.delete_all_cookies()
    desk.click("#record")
    desk.says("#trouble", "The session has ended: not recorded yet")
    desk.click("#trouble a")
    desk.write("#key", admin_key)
    desk.press(Keys.ENTER)
    ready(desk)
    desk.says("#restored", "is restored; it is not recorded yet")
    assert [desk.seen(one).get_attribute("value") for one in ("#input_weight", "#w-1", "#note")] == [
        "6.66", "4.28", "second <b>leg</b> of the day"]
    desk.says("#b-words", "0.160 lb, 2.4 % not accounted for")
    desk.click("#afresh")
    assert desk.seen("#input_weight").get_attribute("value") == ""
    desk.driver.refresh()
    ready(desk)
    assert desk.is_hidden("#restored")


def test_what_the_service_refuses_stands_at_its_field_and_all_is_kept(desk: Browser, block: RunningService) -> None:
    weigh(desk, "6.66", *GOOD)
    desk.run("const day = document.getElementById('tested_on'); day.value = '2026-11-27';"
             "day.dispatchEvent(new Event('input', {bubbles: true}))")
    desk.click("#record")
    desk.says("#tested_on-problem", "A test was made today, 2026-11-25, or earlier.")
    assert desk.focused == "trouble"
    assert desk.seen("#w-3").get_attribute("value") == "0.20"
    desk.write("#w-0", "1.39")
    desk.wait(lambda: "0.150 lb" in said(desk), "judged")
    desk.says("#tested_on-problem", "or earlier")
    desk.run("window.fetch = () => Promise.reject(new TypeError('network'))")
    desk.click("#record")
    desk.says("#trouble", "The service cannot be reached. What you entered is still here")


def test_a_reader_may_weigh_and_is_told_what_recording_takes(
        open_browser: OpenBrowser, block: RunningService) -> None:
    browser = at_the_block(open_browser(PHONE), a_key(block.settings, "read"), f"/yield-tests?breakdown={STEAKS}")
    browser.says("#may-not", "kitchen:write")
    assert browser.is_hidden("#record")
    browser.write("#input_weight", "2")
    browser.says("#w-0-hint", "expect ")
    assert "Chump <b>&</b> steaks" in browser.text("h1")
    assert browser.console() == []


def test_on_a_phone_the_balance_stays_in_view_and_hides_no_field(
        open_browser: OpenBrowser, block: RunningService, admin_key: str) -> None:
    """WCAG 2.2, 2.4.11 (focus not obscured)."""
    browser = at_the_block(open_browser(PHONE), admin_key)
    weigh(browser, "6.66", *GOOD)
    browser.run("arguments[0].focus()", browser.seen("#w-2"))
    for field in ("#w-3", "#w-0", "#input_weight"):
        browser.run("arguments[0].focus()", browser.seen(field))
        top, bottom = browser.run("const box = (one) => document.querySelector(one).getBoundingClientRect();"
                                  "return [box('#balance').top, box(arguments[0]).top - box('#balance').bottom]", field)
        assert top >= 0
        assert bottom >= 0


def test_a_test_that_is_not_there_is_a_page_that_says_so(desk: Browser) -> None:
    desk.open(f"{PAGE}&test=1-1")
    desk.says("main", "There is no test '1-1' of 'leg-boned'")
    desk.open("/yield-tests?test=1-1")
    desk.says("main", "Say of which breakdown it is a test.")


def test_no_page_of_a_test_troubles_the_console(desk: Browser) -> None:
    desk.open(PAGE)
    ready(desk)
    assert desk.console() == []
