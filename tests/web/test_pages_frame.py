"""The frame of the pages over HTTP: who gets in, where they are sent, what an answer carries, problems as pages; and in
a real browser every page there is: nothing that its policy refuses, nothing in the console, no file missing.

Sources: CSP level 3, section 5.3 (`securitypolicyviolation`); the levels of chromedriver's log; RFC 9110 sections
13.1.2, 15.5.2 and 15.5.4; RFC 9111 section 5.2.2; the WHATWG URL standard for what browsers take for another site.
"""

import gzip
import os
import re
from collections.abc import Iterator
from typing import Any

import pytest
import requests

from service import wiring
from service.rest.own_paths import own_path
from service.rest.problem_table import PROBLEMS
from service.settings import Settings
from tests.stories.running_service import RunningService, a_key
from tests.web.browser import DESK, Browser, browsing
from tests.web.signed import Signed
from tests.web.test_docs_pages import Page

NO_PAGES = ("/v1/", "/feeds/", "/health/", "/session", "/static/", "/openapi.json", "/docs/style.css", "/prices/")
CODES = {"/dishes/<code:code>": ["topside-roast"], "/primals/<code:code>": ["beef-topside"],
         "/docs/problems/<slug>": sorted(kind.slug for kind in PROBLEMS.values())[
             ::1 if os.environ.get("SEAMCOST_EVERY_WINDOW") else 12]}
"""Of the problems' pages, which one template makes, every run looks at some."""
REFUSED = ["/dishes/no-such-dish", "/no-such-page", "/?as_of=never"]
"""Problems are pages too."""
NOTES_VIOLATIONS = """
window.refusedByPolicy = [];
document.addEventListener('securitypolicyviolation',
  (event) => window.refusedByPolicy.push(`${event.violatedDirective}: ${event.blockedURI}`));
"""
TOPSIDE = {"name": "Beef topside, trimmed", "input": {"ingredient": "beef-topside"}, "method": "market_value",
           "outputs": [
               {"cut": "trimmed", "name": "Trimmed", "role": "main", "expected_yield": "0.8", "market_value": "24.00"},
               {"cut": "mince", "name": "Mince", "role": "trim", "expected_yield": "0.15", "market_value": "9.00"}]}
"""What makes it a primal."""
INLINE = "const planted = document.createElement('style'); planted.append('p{}'); document.head.append(planted)"


@pytest.fixture(scope="module")
def reader(priced: RunningService) -> Signed:
    return Signed(priced, a_key(priced.settings, "read"))


def test_without_a_session_the_answer_is_a_form_that_leads_back(priced: RunningService) -> None:
    answer = requests.get(f"{priced.address}/?as_of=2026-11-20", timeout=30)
    assert (answer.status_code, answer.headers["Content-Type"]) == (401, "text/html; charset=utf-8")
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")
    assert answer.headers["Cache-Control"] == "private, no-cache"
    assert "Cookie" in answer.headers["Vary"]
    assert '<input type="hidden" name="next" value="/?as_of=2026-11-20">' in answer.text


def test_the_form_signs_in_and_sends_on_to_the_page_asked_for(priced: RunningService, admin_key: str) -> None:
    answer = requests.post(f"{priced.address}/session", data={"key": admin_key, "next": "/?as_of=2026-11-20"},
                           timeout=30, allow_redirects=False)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/?as_of=2026-11-20")
    page = requests.get(priced.address + answer.headers["Location"], cookies=answer.cookies, timeout=30)
    assert page.status_code == 200


@pytest.mark.parametrize("elsewhere", [
    "https://elsewhere.example", "//elsewhere.example", "/\\elsewhere.example", "\\\\elsewhere.example", "javascript:x",
    "/\t/elsewhere.example", "/\n", "", "prices", "/a b", "/é", " /", "/x\\y"])
def test_nobody_is_sent_to_another_site(elsewhere: str) -> None:
    assert own_path(elsewhere, "/") == "/"


@pytest.mark.parametrize("ours", ["/", "/prices#7", "/?as_of=2026-11-20&q=roast%20beef", "/dishes/roast"])
def test_paths_of_our_own_are_kept(ours: str) -> None:
    assert own_path(ours, "/elsewhere") == ours


def test_a_wrong_key_brings_the_form_again_with_where_it_leads_and_without_the_key(priced: RunningService) -> None:
    wrong = "seam_00000000_" + "A" * 43
    answer = requests.post(f"{priced.address}/session", data={"key": wrong, "next": "/dishes/x"}, timeout=30)
    assert (answer.status_code, answer.headers["Content-Type"]) == (401, "text/html; charset=utf-8")
    assert 'name="next" value="/dishes/x"' in answer.text
    assert "unknown, expired or revoked" in answer.text
    assert wrong not in answer.text


def test_a_key_without_the_scope_is_told_which_one_is_missing(priced: RunningService) -> None:
    answer = Signed(priced, a_key(priced.settings, "costs:read")).ask("GET", "/")
    assert (answer.status_code, answer.headers["Content-Type"]) == (403, "text/html; charset=utf-8")
    assert "<code>read</code>" in answer.text


def test_a_page_is_tagged_private_and_the_same_for_all_who_may_read_it(priced: RunningService, reader: Signed) -> None:
    answer = reader.ask("GET", "/", Accept_Encoding="identity")
    assert (answer.status_code, answer.headers["Cache-Control"]) == (200, "private, no-cache")
    assert "Cookie" in answer.headers["Vary"]
    assert "script-src 'self'" in answer.headers["Content-Security-Policy"]
    again = reader.ask("GET", "/", If_None_Match=answer.headers["ETag"], Accept_Encoding="identity")
    assert (again.status_code, again.content) == (304, b"")
    other = Signed(priced, a_key(priced.settings, "admin")).ask("GET", "/", Accept_Encoding="identity")
    assert (other.headers["ETag"], other.text) == (answer.headers["ETag"], answer.text)


def test_a_page_is_packed_where_the_browser_takes_it(reader: Signed) -> None:
    answer = requests.get(f"{reader.address}/", cookies=reader.cookies, headers={"Accept-Encoding": "gzip"},
                          stream=True, timeout=30)
    packed = answer.raw.read()
    assert answer.headers["Content-Encoding"] == "gzip"
    assert gzip.decompress(packed).startswith(b"<!doctype html>")


def test_empty_fields_of_a_form_are_not_given_and_wrong_ones_are_told_on_a_page(reader: Signed) -> None:
    assert reader.ask("GET", "/?as_of=&known_at=").status_code == 200
    answer = reader.ask("GET", "/?as_of=yesterday&known_at=-1")
    assert (answer.status_code, answer.headers["Content-Type"]) == (422, "text/html; charset=utf-8")
    assert "<code>as_of</code>" in answer.text
    assert "<code>known_at</code>" in answer.text
    beside = reader.ask("GET", "/?colour=red&as_of=&known_at=-1").text
    assert ["<code>" + name + "</code>" in beside for name in ("colour", "known_at", "as_of")] == [True, True, False]


def test_a_path_that_leads_nowhere_is_a_page_to_a_browser_and_a_problem_to_a_program(priced: RunningService) -> None:
    browser = requests.get(f"{priced.address}/dishs", headers={"Accept": "text/html,*/*;q=0.8"}, timeout=30)
    program = requests.get(f"{priced.address}/dishs", timeout=30)
    api = requests.get(f"{priced.address}/v1/dishs", headers={"Accept": "text/html"}, timeout=30)
    assert [(answer.status_code, answer.headers["Content-Type"].partition(";")[0])
            for answer in (browser, program, api)] == [
        (404, "text/html"), (404, "application/problem+json"), (404, "application/problem+json")]


def test_every_file_that_a_page_loads_and_every_page_of_the_navigation_is_there(reader: Signed) -> None:
    page = Page(reader.ask("GET", "/").text)
    assert page.inline == []
    assert {link for link in page.links if link.startswith("/static/")}
    for link in {link.partition("#")[0] for link in page.links} - {"", "data:,"}:
        assert reader.ask("GET", link).status_code == 200, link


def test_signing_out_leads_to_the_form_and_clears_what_was_kept(priced: RunningService, reader: Signed) -> None:
    left = reader.ask("POST", "/session/end")
    assert (left.status_code, left.headers["Location"]) == (303, "/")
    assert left.headers["Clear-Site-Data"] == '"cache"'
    assert re.search("Max-Age=0", left.headers["Set-Cookie"])


def paths() -> Iterator[str]:
    """Of every page, each with the codes that it is looked at with."""
    routes = wiring.web_app(Settings(database_url="sqlite:///never-opened.db")).url_map.iter_rules()
    for rule in sorted({each.rule for each in routes if "GET" in (each.methods or ())}):
        if rule.startswith(NO_PAGES):
            continue
        if "<" not in rule:
            yield rule
        for code in CODES.get(rule, ()):
            yield rule.partition("<")[0] + code
        assert "<" not in rule or rule in CODES, f"{rule} is new: name a code to look at it with"


@pytest.fixture(scope="module")
def desk(priced: RunningService, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    priced.admin.keep("/v1/breakdowns/topside-trimmed", TOPSIDE)
    with browsing(priced.address, DESK, tmp_path_factory.mktemp("profile")) as browser:
        browser.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": NOTES_VIOLATIONS})
        yield browser


def wrong_with(browser: Browser) -> list[Any]:
    """What the policy refused, and what the console said, but of the page's own status where that is a problem's."""
    page = browser.driver.current_url
    said = [entry["message"] for entry in browser.driver.get_log("browser")
            if entry["level"] in ("SEVERE", "WARNING") and not entry["message"].startswith(f"{page} - Failed to load")]
    return [*browser.run("return window.refusedByPolicy"), *said]


def test_in_a_browser_no_page_has_anything_refused_or_says_anything_in_the_console(desk: Browser, admin_key: str
                                                                                   ) -> None:
    """Of the application's own map of routes: a page that is new is in here, or has to be given a code above."""
    desk.open("/primals")  # the form by which one signs in is a page as well
    assert wrong_with(desk) == []
    desk.write("input[name=key]", admin_key)
    desk.click("form button")
    desk.wait(lambda: desk.driver.current_url.endswith("/primals") and not desk.all("input[name=key]"), "signed in")
    wrong, answered = {}, {}
    for path in (*paths(), *REFUSED):
        desk.open(path)
        desk.wait(lambda: desk.run("return document.readyState") == "complete", "the page is whole")
        answered[path] = desk.run("return performance.getEntriesByType('navigation')[0].responseStatus")
        if found := wrong_with(desk):
            wrong[path] = found
    assert wrong == {}
    assert len(answered) > 14
    assert {path for path, status in answered.items() if status != 200} == set(REFUSED)
    desk.run(INLINE)  # and the check can fail
    assert any("style-src" in each for each in wrong_with(desk))
