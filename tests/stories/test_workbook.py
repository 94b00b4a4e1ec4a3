"""The chef's workbook over HTTP: downloaded, not downloaded again while nothing moved, and right in a spreadsheet.

Source:  RFC 9110 sections 8.8.3, 9.3.2, 13.1.2 and 15.4.5 for tags, HEAD and 304; RFC 6266 for the file's name.
"""

from collections.abc import Iterator
from io import BytesIO

import pytest
from python_calamine import CalamineWorkbook

from tests.integrations.workbook.live_program import LiveProgram, live_program
from tests.integrations.workbook.published_cells import DISHES, rows_of
from tests.stories.running_service import MONDAY, Client, RunningService

PATH = "/v1/workbook.xlsx"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@pytest.fixture(scope="module")
def chef(service: RunningService) -> Client:
    """A key that reads."""
    return service.client("read", "costs:read")


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveProgram]:
    with live_program(tmp_path_factory.mktemp("program")) as running:
        yield running


def test_the_workbook_computes_what_the_service_answers(chef: Client, program: LiveProgram) -> None:
    answer = chef.get(PATH)
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == XLSX
    assert 'filename="menu-costs-2026-11-25.xlsx"' in answer.headers["Content-Disposition"]
    rows = rows_of(program.opened(answer.content), "Dishes")
    program.close()
    told = {row["dish"]: row for row in chef.everything("/v1/dish-costs")}
    assert rows.keys() == told.keys()
    for code, row in told.items():
        for name, header in DISHES.items():
            places = len(str(row[name]).partition(".")[2])
            assert f"{rows[code][header.format('GBP')]:.{places}f}" == row[name], (code, name)


def test_what_has_not_moved_is_not_sent_again_on_any_worker(service: RunningService, chef: Client) -> None:
    tags, bodies = set(), set()
    for client in service.clients_of_every_worker(chef).values():
        answer = client.get(PATH)
        tags.add(answer.headers["ETag"])
        bodies.add(answer.content)
    assert len(tags) == len(bodies) == 1
    tag = tags.pop()
    for known in (tag, f'"other", W/{tag}', "*"):
        again = chef.get(PATH, if_none_match=known)
        assert (again.status_code, again.content) == (304, b"")
        assert again.headers["ETag"] == tag
    assert chef.get(PATH, if_none_match='"other"').status_code == 200


def test_a_chosen_dish_another_day_or_a_new_price_has_another_tag(service: RunningService, chef: Client) -> None:
    tags = [chef.get(path).headers["ETag"] for path in (
        PATH, f"{PATH}?dishes=grilled-cap", f"{PATH}?as_of={MONDAY}")]
    service.admin.keep("/v1/ingredients/beef-topside/prices", {
        "supplier": "fenmoor", "amount": "15.10", "pack_quantity": "1", "pack_unit": "kg",
        "effective_from": "2026-11-25"})
    tags.append(chef.get(PATH).headers["ETag"])
    assert len(set(tags)) == 4


def test_a_chosen_dish_comes_with_what_it_rests_on_alone(chef: Client) -> None:
    book = CalamineWorkbook.from_filelike(BytesIO(chef.get(f"{PATH}?dishes=grilled-cap").content))
    dishes = book.get_sheet_by_name("Dishes").to_python()
    assert [row[0] for row in dishes[4:]] == ["Grilled cap"]
    assert chef.get(f"{PATH}?dishes=grilled-cap,grilled-cap").content == chef.get(f"{PATH}?dishes=grilled-cap").content


def test_the_head_of_it_is_as_the_whole_but_for_the_body(chef: Client) -> None:
    whole, head = chef.get(PATH), chef.ask("HEAD", PATH)
    assert head.status_code == 200
    assert head.content == b""
    for name in ("ETag", "Content-Type", "Content-Length", "Content-Disposition"):
        assert head.headers[name] == whole.headers[name]


@pytest.mark.parametrize(("query", "what"), [
    ("dishes=grilled-cap,none-such", "none-such"), ("dishes=", "dishes"), ("dishes=Grilled%20Cap", "dishes"),
    ("as_of=yesterday", "as_of"), ("known_at=999999", "known_at"), ("dish=grilled-cap", "dish")])
def test_a_question_that_cannot_be_right_is_told_what_is_wrong(chef: Client, query: str, what: str) -> None:
    answer = chef.get(f"{PATH}?{query}")
    assert answer.status_code == 422
    assert what in answer.text


def test_a_till_does_not_see_the_prices_in_it(service: RunningService) -> None:
    assert service.client("costs:read").get(PATH).status_code == 403
    assert service.client().get(PATH).status_code == 401
