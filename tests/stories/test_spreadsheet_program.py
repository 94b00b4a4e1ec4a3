"""A spreadsheet program reads the costs by an address, and shows the new ones after a price has changed.

The program is LibreOffice. What dishes cost is judged by the naive kitchen of `expected_figures`; that the program
computes with what it read is judged by what it computes.
"""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest

from tests.stories.expected_figures import expected_costs, kitchen_on, with_price
from tests.stories.linked_sheets import COMPUTED, GERMAN, LinkedSheets, Rows, linked_sheets
from tests.stories.running_service import MONDAY, WEDNESDAY, RunningService

CAP = "grilled-cap"
COLUMNS = ["dish", "name", "food_cost", "food_cost_percent", "as_of", "status"]


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LinkedSheets]:
    with linked_sheets(tmp_path_factory.mktemp("sheets")) as program:
        yield program


def a_feed(service: RunningService, **facts: Any) -> tuple[str, str]:
    """The table's address, and that of single figures."""
    answer = service.admin.post("/v1/feeds", {"name": "Sheet", "lists": ["dish-costs"], "fields": COLUMNS} | facts)
    urls = answer.json()["urls"][0]
    return service.address + urls["csv"], service.address + urls["value"]


def keep_price(service: RunningService, amount: str) -> None:
    service.admin.keep("/v1/ingredients/beef-topside/prices", {
        "supplier": "fenmoor", "amount": amount, "pack_quantity": "1", "pack_unit": "kg"})


def food_costs(rows: Rows) -> dict[str, Decimal | str]:
    """By dish, the numbers that the program holds; a float that came from four decimals gives them back."""
    column = rows[0].index("food_cost")
    return {row[0]: round(Decimal(row[column]), 4) if isinstance(row[column], float) else row[column]
            for row in rows[1:]}


def judged(amount: str | None = None, day: Any = WEDNESDAY) -> dict[str, Decimal | str]:
    kitchen = kitchen_on(day)
    if amount is not None:
        kitchen = with_price(kitchen, "beef-topside", amount, WEDNESDAY)
    return {code: Decimal(costs["food_cost"]) for code, costs in expected_costs(kitchen).items()}


def test_a_linked_sheet_shows_the_new_cost_after_a_price_and_after_midnight(
    service: RunningService, sheets: LinkedSheets
) -> None:
    table, _ = a_feed(service)
    first = sheets.linked(table)
    assert first[0] == COLUMNS
    assert food_costs(first) == judged()
    keep_price(service, "17.35")
    assert food_costs(sheets.refreshed()) == judged("17.35")
    assert judged("17.35")[CAP] != judged()[CAP]
    service.move_to(MONDAY)
    try:
        assert food_costs(sheets.refreshed()) == judged("17.35", MONDAY)
    finally:
        service.move_to(WEDNESDAY)


def test_a_table_opens_by_its_address_with_point_or_comma_and_umlauts_whole(
    service: RunningService, sheets: LinkedSheets
) -> None:
    service.admin.keep("/v1/dishes/bouef", {
        "name": "Bœuf à l’Ümlaut", "portions": "1", "menu_price": "20",
        "lines": [{"ingredient": "butter", "quantity": "10", "unit": "g"}]})
    plain, _ = a_feed(service)
    european, _ = a_feed(service, delimiter="semicolon", decimal="comma", bom=True)
    by_tab, _ = a_feed(service, delimiter="tab", decimal="comma")
    rows = sheets.opened(plain)
    assert sheets.opened(european, ";", GERMAN) == sheets.opened(by_tab, "\t", GERMAN) == rows
    assert next(row[1] for row in rows if row[0] == "bouef") == "Bœuf à l’Ümlaut"
    assert all(isinstance(value, Decimal) for value in food_costs(rows).values())


def test_text_that_looks_like_a_formula_is_shown_and_never_computed(
    service: RunningService, sheets: LinkedSheets
) -> None:
    """The program is told to compute what looks like a formula, which it does not of itself."""
    typed = {"odd-sum": "=1+1", "odd-link": '=HYPERLINK("http://sheets.example","x")', "odd-minus": "-2+3"}
    for code, name in typed.items():
        service.admin.keep(f"/v1/dishes/{code}", {"name": name, "portions": "1", "menu_price": "20", "lines": [
            {"ingredient": "butter", "quantity": "10", "unit": "g"}]})
    table, _ = a_feed(service)
    rows = sheets.opened(table, reading=COMPUTED)
    assert {row[0]: row[1] for row in rows if row[0] in typed} == {code: f"'{name}" for code, name in typed.items()}


def test_a_cell_computes_with_a_single_figure_and_asks_again_when_its_address_changes(
    service: RunningService, sheets: LinkedSheets
) -> None:
    _, value = a_feed(service)
    cell = value.format(code=CAP, figure="food_cost")
    keep_price(service, "15.00")
    (text, _, _), (_, number, error) = sheets.computed([
        f'=WEBSERVICE("{cell}?refresh=1")', f'=VALUE(WEBSERVICE("{cell}?refresh=1"))*2'])
    assert (text, error) == (str(judged("15.00")[CAP]), 0)
    assert round(Decimal(number), 4) == 2 * Decimal(judged("15.00")[CAP])
    keep_price(service, "15.80")
    assert sheets.computed([f'=WEBSERVICE("{cell}?refresh=2")'])[0][0] == str(judged("15.80")[CAP])


def test_what_is_not_known_is_an_error_in_a_formula_and_never_nought(
    service: RunningService, sheets: LinkedSheets
) -> None:
    service.admin.keep("/v1/ingredients/saffron", {"name": "Saffron", "kind": "dry goods", "base_unit": "kg"})
    service.admin.keep("/v1/dishes/golden-rice", {"name": "Golden rice", "portions": "1", "menu_price": "9", "lines": [
        {"ingredient": "saffron", "quantity": "1", "unit": "g"}]})
    table, value = a_feed(service)
    assert food_costs(sheets.opened(table))["golden-rice"] == "n/a"
    shown, computed, missing = sheets.computed([
        f'=WEBSERVICE("{value.format(code="golden-rice", figure="food_cost")}")',
        f'=VALUE(WEBSERVICE("{value.format(code="golden-rice", figure="food_cost")}"))',
        f'=WEBSERVICE("{value.format(code="no-such-dish", figure="food_cost")}")'])
    assert shown[0] == "n/a"
    assert computed[2] != 0
    assert missing[2] != 0
