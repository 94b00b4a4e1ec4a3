"""The board over HTTP, row by row against the API: figures, order, what moved and why, what is missing, the search.

Sources: the API's own answers of the day and of the evening before; the kitchen is invented (board_kitchen).
"""

import re
from decimal import Decimal
from html.parser import HTMLParser
from typing import Any

import pytest
import requests

from tests.stories.running_service import MONDAY, WEDNESDAY, RunningService
from tests.web.board_kitchen import THURSDAY, a_rise
from tests.web.signed import Signed
from tests.web.test_docs_pages import Page


class Tables(HTMLParser):
    """The cells of each row of a page's tables, as text but for its alert, by the group that the table shows."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.groups: dict[str, list[list[str]]] = {}
        self._group = ""
        self._in_body = self._in_cell = self._in_alert = False
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "table":
            self._group = str(dict(attrs)["class"]).split()[0]
            self.groups[self._group] = []
        self._in_body = self._in_body or tag == "tbody"
        if tag == "tr" and self._in_body:
            self.groups[self._group].append([])
        self._in_alert = tag == "small" and ("class", "alert") in attrs
        if tag in ("th", "td") and self._in_body:
            self.groups[self._group][-1].append("")
            self._in_cell = True

    def handle_endtag(self, tag: str) -> None:
        self._in_body = self._in_body and tag != "tbody"
        self._in_cell = self._in_cell and tag not in ("th", "td")
        self._in_alert = self._in_alert and tag != "small"

    def handle_data(self, data: str) -> None:
        if self._in_cell and not self._in_alert:
            self.groups[self._group][-1][-1] += data


def rows_of_the_api(service: RunningService, query: str = "") -> dict[str, Any]:
    return {row["name"]: row for row in service.admin.everything(f"/v1/dish-costs{query}")}


def signed(text: str) -> Decimal:
    return Decimal(text.replace("−", "-"))


def test_every_dish_stands_on_it_once_with_the_figures_of_the_api(morning: RunningService, reader: Signed) -> None:
    board, rows = Tables(reader.ask("GET", "/").text).groups, rows_of_the_api(morning)
    shown = {cells[0]: cells for group in ("outside", "within") for cells in board[group]}
    assert sum(len(group) for group in board.values()) == len(rows)
    for name, cells in shown.items():
        row = rows[next(known for known in rows if name.startswith(known))]
        assert (cells[1], cells[3], cells[4], cells[5]) == (
            row["food_cost_percent"], row["food_cost"], row["gross_profit"], row["menu_price"])
        assert signed(cells[2]) == Decimal(row["food_cost_percent"]) - Decimal(row["target_food_cost_percent"])


def test_those_outside_target_come_first_the_furthest_off_first(morning: RunningService, reader: Signed) -> None:
    board, rows = Tables(reader.ask("GET", "/").text).groups, rows_of_the_api(morning)
    assert list(board) == ["outside", "unknown", "within"]
    assert {cells[0] for cells in board["outside"]} == {name for name, row in rows.items() if not row["within_target"]
                                                        and row["within_target"] is not None}
    off = [signed(cells[2]) for cells in board["outside"]]
    assert off == sorted(off, reverse=True)
    assert all(points > 0 for points in off)
    assert all(signed(cells[2]) <= 0 for cells in board["within"])


def test_what_moved_since_yesterday_is_the_difference_to_what_was_published_then(
        morning: RunningService, reader: Signed) -> None:
    known = min(entry["revision"] for entry in morning.admin.read("/v1/changes?limit=1000")["data"]
                if entry["kind"] == "price" and entry["record"]["effective_from"] == THURSDAY.isoformat()) - 1
    then, now = rows_of_the_api(morning, f"?as_of={WEDNESDAY}&known_at={known}"), rows_of_the_api(morning)
    cells = next(row for group in Tables(reader.ask("GET", "/").text).groups.values() for row in group
                 if row[0].startswith("Topside roast"))
    points = Decimal(now["Topside roast"]["food_cost_percent"]) - Decimal(then["Topside roast"]["food_cost_percent"])
    assert points > 0
    price = (Decimal("15.20") / Decimal("13.90") - 1) * 100
    assert cells[6].replace("\xa0", " ") == f"+{points} Beef topside +{price:.2f} %"


def test_what_did_not_move_says_nothing_and_what_joined_the_menu_is_new(reader: Signed) -> None:
    rows = [cells for group in Tables(reader.ask("GET", "/").text).groups.values() for cells in group]
    moved = {cells[0].split(" ")[0]: cells[6] for cells in rows if len(cells) == 7}
    assert moved["Braised"] == ""
    assert moved["Shin"] == "new"


def test_a_dish_that_is_not_complete_says_what_is_missing_and_the_mend(
        morning: RunningService, reader: Signed) -> None:
    gap = rows_of_the_api(morning)["Egg mayonnaise"]["gaps"][0]["detail"]
    assert Tables(reader.ask("GET", "/").text).groups["unknown"][0][:2] == ["Egg mayonnaise larder", gap]


def test_the_summary_is_of_the_whole_menu(morning: RunningService, reader: Signed) -> None:
    known = [row for row in rows_of_the_api(morning).values() if row["food_cost"]]
    percent = sum(Decimal(row["food_cost"]) for row in known) / sum(
        Decimal(row["price_before_tax"]) for row in known) * 100
    text = re.sub(r"<[^>]+>", "", reader.ask("GET", "/?q=roast").text)
    outside = sum(row["within_target"] is False for row in known)
    assert f"{outside} dish" in text
    assert f"the menu at {percent:.2f} %" in text


def test_what_is_recorded_for_monday_is_announced_and_its_board_is_a_link_away(reader: Signed) -> None:
    text = reader.ask("GET", "/").text
    assert "Coming on Mon 30 Nov: Beef topside +5.26" in text
    monday = reader.ask("GET", f"/?as_of={MONDAY}")
    assert f'href="/?as_of={MONDAY}"' in text
    assert "This is as of Mon 30 Nov 2026" in monday.text
    assert f'href="/dishes/topside-roast?as_of={MONDAY}"' in monday.text


@pytest.mark.parametrize(("query", "found"), [
    ("q=roast", {"Topside roast"}), ("q=ROAST+top", {"Topside roast"}), ("q=braised-shin", {"Braised shin"}),
    ("section=larder", {"Egg mayonnaise larder"}), ("q=larder", {"Egg mayonnaise larder"}), ("q=nothing+such", set()),
    ("q=%3Cb%3E", {"Brown butter <b>&amp;</b> bread"}), ("q=roast&section=stove", set())])
def test_a_search_works_without_scripts(reader: Signed, query: str, found: set[str]) -> None:
    page = reader.ask("GET", f"/?{query}").text
    assert {cells[0] for group in Tables(page).groups.values() for cells in group} == found
    assert f"{len(found)} of 5 dishes" in page


def test_what_was_typed_stays_in_the_field_and_is_never_markup(reader: Signed) -> None:
    page = reader.ask("GET", "/?q=%22%3E%3Cscript%3Ealert(1)%3C/script%3E")
    assert page.status_code == 200
    assert "<script>alert" not in page.text
    assert "&lt;script&gt;alert(1)" in page.text
    assert Page(page.text).inline == []


def test_a_board_of_a_day_as_known_at_a_revision_never_changes_again(morning: RunningService, reader: Signed) -> None:
    asked = f"/?as_of={THURSDAY}&known_at={morning.admin.head_revision()}"
    before, today = reader.ask("GET", asked), reader.ask("GET", "/")
    a_rise(morning, "beef-shin", "9.90", THURSDAY.isoformat())
    after = reader.ask("GET", asked)
    assert (after.headers["ETag"], after.text) == (before.headers["ETag"], before.text)
    assert reader.ask("GET", "/").headers["ETag"] != today.headers["ETag"]


def test_on_the_first_day_of_a_ledger_nothing_is_said_to_have_moved_or_not(
        morning: RunningService, reader: Signed) -> None:
    """All dishes of that Wednesday were recorded on it: of the evening before there is nothing to compare with."""
    assert morning.admin.read(f"/v1/dish-costs?as_of={WEDNESDAY}")["data"]
    first, second = (re.sub(r"<[^>]+>", "", reader.ask("GET", f"/?as_of={day}").text) for day in (WEDNESDAY, THURSDAY))
    assert "no dish was known on Tue 24 Nov to compare with" in first
    assert "moved since" not in first
    assert "moved since Wed 25 Nov" in second
    assert "to compare with" not in second


def test_before_the_first_day_of_a_ledger_there_is_no_dish(reader: Signed) -> None:
    page = reader.ask("GET", "/?known_at=0&as_of=2026-01-01")
    assert page.status_code == 200
    assert "no dish on the menu" in page.text


def test_a_menu_without_dishes_is_not_said_to_be_within_target(reader: Signed) -> None:
    page = reader.ask("GET", "/?known_at=0").text
    assert "There is no dish on the menu" in page
    assert "within target" not in page


def test_a_revision_above_the_head_is_told_on_a_page(morning: RunningService, reader: Signed) -> None:
    answer = requests.get(f"{morning.address}/?known_at=999999", cookies=reader.cookies, timeout=30)
    assert (answer.status_code, answer.headers["Content-Type"]) == (422, "text/html; charset=utf-8")
    assert "nothing is known at a later one" in answer.text
