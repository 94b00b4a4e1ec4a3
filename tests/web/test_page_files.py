"""The page's files as they are served: whole, small, its own, and under a policy that lets nothing else in.

Sources: CSP level 3; OWASP ASVS 5.0.0, chapter 3.4 (from memory); WCAG 2.2, 1.3.1 and 2.4.6 for the headings.
"""

import gzip
import re
from itertools import pairwise

import pytest

from service.web.page_making import make_page
from tests.rest.trays import a_client, as_
from tests.web.test_docs_pages import Page

PAGE = make_page("prices")
HTML = PAGE.html.decode()
SCRIPTS = {name: content.decode() for name, content in PAGE.files.items() if name.endswith(".js")}
MADE_BY_SCRIPTS = {"left"}
"""Ids that are looked up and stand in no page: a script makes them."""

BEHIND_A_SESSION = ("/", "/primals", "/what-if", "/yield-tests")
"""Pages of the navigation that need a key: test_pages_frame follows them."""

SMALL = 30_000
"""Bytes, packed: all that the page loads. A page of finance on a phone in a cellar."""


def test_the_policy_lets_in_its_own_files_alone() -> None:
    told = a_client().get("/prices").headers["Content-Security-Policy"]
    assert set(told.split("; ")) >= {
        "default-src 'none'", "script-src 'self'", "style-src 'self'", "connect-src 'self'", "img-src 'self' data:",
        "form-action 'self'", "base-uri 'none'", "frame-ancestors 'none'", "require-trusted-types-for 'script'"}
    assert "unsafe" not in told


@pytest.mark.parametrize("path", ["/prices", *(f"/prices/{name}" for name in sorted(PAGE.files))])
def test_every_file_is_open_current_and_keeps_to_itself(path: str) -> None:
    answer = a_client().get(path)
    assert answer.status_code == 200
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["X-Frame-Options"] == "DENY"
    assert answer.headers["Cache-Control"] == "public, no-cache"
    again = a_client().get(path, headers={"If-None-Match": answer.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    media_type = {"css": "text/css", "js": "text/javascript"}.get(path.rpartition(".")[2], "text/html")
    assert answer.content_type == f"{media_type}; charset=utf-8"


@pytest.mark.parametrize("name", ["nope.js", "page.html", "..%2Fpage.css", "PAGE.CSS"])
def test_nothing_else_is_served_there(name: str) -> None:
    assert a_client().get(f"/prices/{name}", headers=as_("reader")).status_code == 404


def test_elements_are_closed_in_order_ids_are_unique_and_nothing_is_inline() -> None:
    page = Page(HTML)
    assert page.open == []
    assert len(page.ids) == len(set(page.ids))
    assert page.inline == []
    assert re.findall(r"<style|<script(?! type=\"module\" src)", HTML) == []


def test_what_labels_and_describes_is_there() -> None:
    ids = set(Page(HTML).ids)
    named = re.findall(r'(?:for|aria-labelledby|aria-describedby|aria-controls|list)="([^"]+)"', HTML)
    assert {one for told in named for one in told.split()} <= ids


def test_every_view_has_one_first_heading_and_none_skips_a_level() -> None:
    for view in re.split(r'(?=<section id="sign-in"|<div id="lists"|<article id="review")', HTML)[1:]:
        headings = Page("<main>" + view.partition("</main>")[0] + "</main>").headings
        assert headings[0] == 1
        assert headings.count(1) == 1
        assert all(below <= above + 1 for above, below in pairwise(headings))


def test_every_link_leads_somewhere() -> None:
    for link in Page(HTML).links:
        if link not in ("#", "data:,", *BEHIND_A_SESSION):
            path, _, fragment = link.partition("#")
            assert a_client().get(path or "/prices").status_code == 200, link
            assert not fragment or fragment in Page(HTML).ids, link


def test_the_scripts_look_up_only_what_is_there() -> None:
    looked_up = {one for script in SCRIPTS.values()
                 for one in re.findall(r'(?:byId|show|focusOn|mark|tell|fill)\("([a-z-]+)"', script)}
    assert len(looked_up) > 40
    assert looked_up - MADE_BY_SCRIPTS <= set(Page(HTML).ids)


@pytest.mark.parametrize("name", sorted(SCRIPTS))
def test_scripts_make_no_markup_of_text_and_ask_nobody_else(name: str) -> None:
    assert re.findall(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\b|new Function|DOMParser"
                      r"|setTimeout\(\"|https?:|//cdn|localStorage|sessionStorage", SCRIPTS[name]) == []
    imported = re.findall(r'from "([^"]+)"', SCRIPTS[name])
    assert {one.removeprefix("./") for one in imported} <= set(SCRIPTS)


def test_the_page_is_small() -> None:
    sizes = {name: len(gzip.compress(content, mtime=0)) for name, content in
             {"page.html": PAGE.html, **PAGE.files}.items()}
    assert sum(sizes.values()) < SMALL, sizes


def test_the_stylesheet_names_only_colours_of_the_palette() -> None:
    style = PAGE.files["page.css"].decode()
    named, given = set(re.findall(r"var\(--([a-z]+)\)", style)), set(re.findall(r"--([a-z]+):", style))
    assert named <= given
    own = style.partition("* { box-sizing")[2].partition("@media print")[0]
    assert re.findall(r"#[0-9a-f]{3,6}\b|rgb|hsl", own) == []
