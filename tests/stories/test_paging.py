"""Lists: pages that stand still while others write, cursors that fit nothing else, and tables that are whole.

Source: RFC 8288 (Link, rel=next); RFC 4180 (CSV).
"""

import csv
import io
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Event
from typing import Any

import pytest

from tests.stories.running_service import MONDAY, WEDNESDAY, Client, RunningService

COSTS = ("/v1/dish-costs", "/v1/cut-costs", "/v1/recipe-costs")
LISTS = (*COSTS, "/v1/dishes", "/v1/recipes", "/v1/ingredients", "/v1/breakdowns", "/v1/suppliers", "/v1/prices",
         "/v1/ingredients/whole-salmon/prices", "/v1/breakdowns/topside-seamed/yield-tests")


@pytest.fixture(scope="module")
def reader(service: RunningService) -> Client:
    return service.client("read")


def pages(client: Client, path: str) -> Iterator[Any]:
    """Every page, following `next_cursor`; each must say so in its Link field too."""
    cursor, joint = "", "&" if "?" in path else "?"
    while True:
        answer = client.get(path + cursor)
        assert answer.status_code == 200, answer.text
        page = answer.json()
        assert (page["next_cursor"] is not None) == ('rel="next"' in answer.headers.get("Link", ""))
        yield page
        if page["next_cursor"] is None:
            return
        assert f"cursor={page['next_cursor']}" in answer.headers["Link"]
        cursor = f"{joint}cursor={page['next_cursor']}"


@pytest.mark.parametrize("path", LISTS)
def test_pages_put_together_are_the_list(reader: Client, path: str) -> None:
    whole = reader.read(f"{path}?limit=1000")
    paged = list(pages(reader, f"{path}?limit=2"))
    assert [row for page in paged for row in page["data"]] == whole["data"]
    assert len(paged) == max(1, (len(whole["data"]) + 1) // 2)
    assert {(page["revision"], page["as_of"]) for page in paged} == {(whole["revision"], WEDNESDAY.isoformat())}


def test_the_next_link_can_be_followed_as_it_is(reader: Client) -> None:
    """RFC 8288: the target is a reference, resolved against where it was found."""
    first = reader.get("/v1/dishes?limit=5")
    target = first.links["next"]["url"]
    assert reader.get(target).json()["data"] == reader.read("/v1/dishes?limit=10")["data"][5:]


@pytest.mark.parametrize("first", ["", f"&as_of={WEDNESDAY}"])
@pytest.mark.parametrize("then", [f"&as_of={WEDNESDAY}", ""])
def test_a_page_goes_on_however_others_have_asked_for_the_same(reader: Client, first: str, then: str) -> None:
    """Today and today's date are the same figures; the cursor still belongs to what was asked."""
    reader.read(f"/v1/dish-costs?limit=4{first}")
    assert sum(len(page["data"]) for page in pages(reader, f"/v1/dish-costs?limit=4{then}")) == len(
        reader.read("/v1/dish-costs")["data"])


@pytest.mark.parametrize("path", ["/v1/dish-costs", "/v1/ingredients", "/v1/prices"])
def test_pages_stand_still_while_a_writer_writes(service: RunningService, reader: Client, path: str) -> None:
    """Every page is of the first one's revision and day, whatever is recorded meanwhile."""
    expected = reader.read(f"{path}?limit=1000")
    begun, done = Event(), Event()

    def write() -> int:
        writer, written = service.same(service.admin), 0
        name = path.rpartition("/")[2]
        while not done.is_set() or written < 3:
            writer.keep(f"/v1/ingredients/a-{name}-{written}", {"name": "A", "kind": "dry goods", "base_unit": "kg"})
            writer.keep(f"/v1/ingredients/a-{name}-{written}/prices", {
                "supplier": "harrowick", "amount": "1", "pack_quantity": "1", "pack_unit": "kg"})
            writer.keep("/v1/ingredients/potato/prices", {
                "supplier": "harrowick", "amount": f"{20 + written}", "pack_quantity": "25", "pack_unit": "kg"})
            written += 1
            begun.set()
        return written

    with ThreadPoolExecutor(1) as pool:
        try:
            following = pages(reader, f"{path}?limit=3")
            read = [next(following)]
            writing = pool.submit(write)
            assert begun.wait(60)
            read += following
        finally:
            done.set()
        assert writing.result(60) >= 3
    assert [row for page in read for row in page["data"]] == expected["data"]
    assert {(page["revision"], page["as_of"]) for page in read} == {(expected["revision"], expected["as_of"])}
    assert reader.read(f"{path}?limit=1000")["data"] != expected["data"]


def test_pages_stand_still_over_midnight(service: RunningService, reader: Client) -> None:
    expected = reader.read("/v1/dish-costs")
    first = reader.read("/v1/dish-costs?limit=6")
    service.move_to(MONDAY)
    try:
        second = reader.read(f"/v1/dish-costs?limit=6&cursor={first['next_cursor']}")
        assert first["data"] + second["data"] == expected["data"]
        assert second["as_of"] == WEDNESDAY.isoformat()
        assert reader.read("/v1/dish-costs")["data"] != expected["data"]
    finally:
        service.move_to(WEDNESDAY)


def refuses_the_cursor(client: Client, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 422, answer.text
    (error,) = answer.json()["errors"]
    assert (error["code"], error["parameter"] in ("cursor", "after")) == ("wrong-cursor", True)


@pytest.mark.parametrize("path", ["/v1/dish-costs?limit=2&cursor=", "/v1/dishes?limit=2&cursor=",
                                  "/v1/changes?limit=2&after="])
def test_a_cursor_fits_nothing_but_its_list_its_filters_and_its_key(
    service: RunningService, reader: Client, path: str
) -> None:
    cursor = reader.read(path.rpartition("&")[0])["next_cursor"]
    assert reader.get(path + cursor).status_code == 200
    forged = [cursor[:-1], cursor + "A", "A" + cursor, ("B" if cursor[0] == "A" else "A") + cursor[1:],
              cursor[:-1] + ("B" if cursor[-1] == "A" else "A"), "nonsense", "%00", "%F0%9F%A5%A9", "A" * 3000]
    for text in forged:
        refuses_the_cursor(reader, path + text)
    refuses_the_cursor(service.client("read"), path + cursor)
    refuses_the_cursor(reader, f"/v1/recipes?limit=2&cursor={cursor}")
    if "cursor" in path:
        refuses_the_cursor(reader, f"{path}{cursor}&as_of={WEDNESDAY}")
        refuses_the_cursor(reader, f"{path}{cursor}&known_at=100")


def test_a_tills_cursor_opens_no_day_that_the_till_may_not_read(service: RunningService) -> None:
    """A key with costs:read alone reads the last 35 days; a cursor of day 0 is too old on day 36."""
    till = service.client("costs:read")
    cursor = till.read("/v1/dish-costs?limit=2")["next_cursor"]
    try:
        service.move_to(WEDNESDAY + timedelta(days=35))
        assert till.get(f"/v1/dish-costs?limit=2&cursor={cursor}").status_code == 200
        service.move_to(WEDNESDAY + timedelta(days=36))
        assert till.get(f"/v1/dish-costs?limit=2&cursor={cursor}").status_code == 403
    finally:
        service.move_to(WEDNESDAY)


@pytest.mark.parametrize("path", COSTS)
@pytest.mark.parametrize("scopes", [("read",), ("costs:read",)])
def test_a_table_is_whole_and_has_the_figures_of_the_json(
    service: RunningService, path: str, scopes: tuple[str, ...]
) -> None:
    client = service.client(*scopes)
    answer = client.ask("GET", f"{path}?limit=2", accept="text/csv")
    if scopes == ("costs:read",) and path != "/v1/dish-costs":
        assert answer.status_code == 403
        return
    assert answer.headers["Content-Type"].startswith("text/csv; charset=utf-8")
    assert answer.headers["Content-Disposition"].startswith("attachment;")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8"), newline=""), strict=True))
    shown = client.read(f"{path}?limit=1000")["data"]
    assert len(rows) == len(shown) > 10
    for row, figures in zip(rows, shown, strict=True):
        assert row == {name: as_a_cell(figures[name]) for name in row}
    assert {name for name in shown[0] if "cost" in name or "price" in name} <= set(rows[0])


def as_a_cell(value: Any) -> str:
    """JSON's value as a table has it: an empty cell for what is not known."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return " ".join(value) if isinstance(value, list) else "" if value is None else str(value)


@pytest.mark.parametrize("path", [*LISTS, "/v1/changes", "/v1/dish-costs/grilled-cap", "/v1/dishes/grilled-cap",
                                  "/v1/settings"])
def test_an_unknown_query_parameter_is_refused_by_name(reader: Client, path: str) -> None:
    answer = reader.get(f"{path}?limt=5")
    assert (answer.status_code, answer.json()["type"]) == (422, "/docs/problems/unknown-parameter")
    assert answer.json()["errors"][0]["parameter"] == "limt"


@pytest.mark.parametrize(("asked", "parameter"), [
    ("limit=0", "limit"), ("limit=1001", "limit"), ("limit=ten", "limit"), ("limit=-1", "limit"), ("limit=", "limit"),
    ("as_of=2026-02-30", "as_of"), ("as_of=20261125", "as_of"), ("as_of=today", "as_of"), ("as_of=", "as_of"),
    ("known_at=-1", "known_at"), ("known_at=99999999999999999999", "known_at"), ("limit=2&limit=3", "limit")])
def test_a_wrong_parameter_is_refused_by_name(reader: Client, asked: str, parameter: str) -> None:
    answer = reader.get(f"/v1/dish-costs?{asked}")
    assert (answer.status_code, answer.json()["errors"][0]["parameter"]) == (422, parameter)
