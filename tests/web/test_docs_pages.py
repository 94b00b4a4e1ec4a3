"""The documentation's pages: whole, safe and usable without scripts. Source: WCAG 2.2, 1.4.3 for the contrast."""

import html
import re
from html.parser import HTMLParser
from importlib.resources import files
from itertools import pairwise

import pytest

from service.domain.errors import Fault
from service.rest.http_faults import RepeatedParameter, UnknownParameter, WrongCursor
from service.rest.openapi_layer.document import document, operations
from service.rest.problem_table import PROBLEMS
from service.web.docs_pages import make_docs
from tests.rest.trays import a_client, the_app

VOID = {"meta", "link", "br", "hr", "img", "input"}


class Page(HTMLParser):
    """A page's elements: ids, links and headings; complains about what is not closed in order."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.headings: list[int] = []
        self.open: list[str] = []
        self.inline: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.ids += [value for name, value in attrs if name == "id" and value]
        self.links += [value for name, value in attrs if name in ("href", "src") and value]
        self.inline += [name for name in given if name == "style" or name.startswith("on")]
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


INDEX = Page(a_client().get("/docs").text)


def test_every_operation_and_every_problem_has_its_place() -> None:
    assert {operation["operationId"] for _, _, operation in operations(document(the_app()))} <= set(INDEX.ids)
    assert {kind.uri for kind in PROBLEMS.values()} <= set(INDEX.links)


def test_elements_are_closed_in_order_and_ids_are_unique() -> None:
    assert INDEX.open == []
    assert len(INDEX.ids) == len(set(INDEX.ids))


def test_every_link_leads_somewhere() -> None:
    for link in INDEX.links:
        path, _, fragment = link.partition("#")
        assert a_client().get(path or "/docs").status_code == 200
        assert not fragment or fragment in INDEX.ids


def test_nothing_is_inline_that_the_policy_would_refuse() -> None:
    assert INDEX.inline == []


def test_a_body_shows_what_it_reads_and_an_answer_all_that_it_gives() -> None:
    put = a_client().get("/docs").text.partition('<article id="keep_tray">')[2].partition("</article>")[0]
    body, _, answers = put.partition("<h4>Answers</h4>")
    assert "<code>weight_kg</code>" in body
    assert "<code>revision</code>" not in body
    assert {"<code>revision</code>", "<code>cost</code>"} <= set(re.findall("<code>[a-z]+</code>", answers))


def test_headings_never_skip_a_level() -> None:
    assert INDEX.headings[0] == 1
    assert all(below <= above + 1 for above, below in pairwise(INDEX.headings))


def test_what_comes_from_the_document_is_escaped() -> None:
    content = document(the_app()) | {"info": {"title": "<b>&", "version": "1", "description": "`<i>` and <u>"}}
    html = make_docs(content, PROBLEMS.values()).index.decode()
    assert "<b>&" not in html
    assert "<code>&lt;i&gt;</code> and &lt;u&gt;" in html


def test_a_problem_s_page_says_what_it_means_how_to_mend_it_and_what_it_looks_like() -> None:
    for kind in PROBLEMS.values():
        page = a_client().get(kind.uri).text
        assert kind.title in page.replace("&#39;", "'")
        assert page.count("<h2>") == 3
        assert Page(page).headings == [1, 2, 2, 2]


@pytest.mark.parametrize("fault", [UnknownParameter, RepeatedParameter, WrongCursor])
def test_a_problem_of_a_query_names_a_parameter_where_it_shows_what_it_looks_like(fault: type[Fault]) -> None:
    page = html.unescape(a_client().get(PROBLEMS[fault].uri).text)
    assert '"parameter": "' in page
    assert "#/lines" not in page


def luminance(colour: str) -> float:
    """Relative luminance by WCAG 2.2."""
    parts = [int(colour[place:place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("block", [0, 1])
def test_text_stands_out_by_4_5_to_1_in_light_and_dark(block: int) -> None:
    style = files("service.web").joinpath("static", "palette.css").read_text()
    colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", re.findall(r":root \{.*?\}", style, re.DOTALL)[block]))
    for text in ("ink", "soft", "accent", "get", "put", "post", "delete"):
        for ground in ("paper", "panel") if text == "ink" else ("paper",):
            lighter, darker = sorted((luminance(colours[text]), luminance(colours[ground])), reverse=True)
            assert (lighter + 0.05) / (darker + 0.05) >= 4.5, (text, ground)
