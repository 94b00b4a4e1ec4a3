"""The feed of dish costs: where it begins, what it tells whom, who may wait, and for how long.

Source: RFC 9110 section 10.2.3 (Retry-After).
"""

import time
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest

from tests.stories.feed_followers import FEED, LIST, Follower, figures_of, full_read
from tests.stories.running_service import THREADS, WEDNESDAY, Client, RunningService

TOPSIDE = "/v1/ingredients/beef-topside/prices"


@pytest.fixture(scope="module")
def till(service: RunningService) -> Client:
    return service.client("costs:read")


def post_topside(service: RunningService, amount: str, day: str = WEDNESDAY.isoformat()) -> Any:
    return service.admin.keep(TOPSIDE, {"supplier": "fenmoor", "amount": amount, "pack_quantity": "1",
                                        "pack_unit": "kg", "effective_from": day, "reference": ""})


def where_it_stands(client: Client) -> str:
    """Where a full read stands, as the feed takes it."""
    page = client.read(LIST)
    return f"from_revision={page['revision']}&from_date={page['as_of']}"


def cursor_of_now(client: Client) -> str:
    return str(client.read(f"{FEED}?{where_it_stands(client)}")["next_cursor"])


def test_a_feed_that_begins_where_a_full_read_stood_tells_what_came_since(service: RunningService) -> None:
    begin, rows = where_it_stands(service.admin), full_read(service.admin)
    posted = post_topside(service, "21.00")
    page = service.admin.read(f"{FEED}?{begin}")
    moved = {change["dish"]: change for change in page["data"]}
    assert "grilled-cap" in moved
    for dish, change in moved.items():
        assert change["before"] == rows[dish]
        assert change["after"] == figures_of(service.admin.read(f"/v1/dish-costs/{dish}"))
        assert change["moved_by"] == "revision"
        assert [(cause["kind"], f"{cause['revision']}-{cause['entry']}") for cause in change["causes"]] == [
            ("price", posted["id"])]
    assert service.admin.read(f"{FEED}?after={page['next_cursor']}")["data"] == []


def test_a_till_sees_the_kind_of_cause_and_never_a_price(service: RunningService, till: Client) -> None:
    begin = where_it_stands(till)
    post_topside(service, "22.50")
    page = till.read(f"{FEED}?{begin}")
    assert [change["causes"] for change in page["data"]] == [[{"kind": "price"}]] * len(page["data"])
    assert page["data"]


def test_pages_end_anywhere_and_nothing_is_missing_or_told_twice(service: RunningService) -> None:
    begin = where_it_stands(service.admin)
    post_topside(service, "23.00")
    post_topside(service, "24.00")
    whole = service.admin.read(f"{FEED}?{begin}&limit=1000")["data"]
    by_one, page = [], service.admin.read(f"{FEED}?{begin}&limit=1")
    while page["data"] or page["more"]:
        by_one += page["data"]
        page = service.admin.read(f"{FEED}?after={page['next_cursor']}&limit=1")
    assert by_one == whole
    assert len(whole) > 2


def test_who_waits_is_answered_when_a_price_is_posted(service: RunningService, till: Client) -> None:
    cursor = cursor_of_now(till)
    with ThreadPoolExecutor(1) as threads:
        waiting = threads.submit(service.same(till).read, f"{FEED}?after={cursor}&wait=25")
        time.sleep(1)
        assert not waiting.done()
        post_topside(service, "25.00")
        assert waiting.result(timeout=10)["data"]


def test_who_waits_in_vain_is_told_so_when_the_time_is_up(till: Client) -> None:
    cursor = cursor_of_now(till)
    start = time.monotonic()
    page = till.read(f"{FEED}?after={cursor}&wait=1")
    assert (page["data"], page["more"]) == ([], False)
    assert time.monotonic() - start >= 1


def test_waiters_take_half_of_a_workers_threads_and_leave_the_rest(service: RunningService, till: Client) -> None:
    """Many more ask to wait than there are places; those that find none are told at once when to come back."""
    cursor = cursor_of_now(till)
    many = 3 * THREADS * service.workers
    with ThreadPoolExecutor(many) as threads:
        pages = [threads.submit(service.same(till).get, f"{FEED}?after={cursor}&wait=10") for _ in range(many)]
        until = time.monotonic() + 8
        while sum(page.done() for page in pages) < many - THREADS // 2 * service.workers and time.monotonic() < until:
            time.sleep(0.1)
        at_once = [page.result() for page in pages if page.done()]
        waiting = [page for page in pages if not page.done()]
        assert till.get("/v1/dish-costs/grilled-cap").status_code == 200
        assert 0 < len(waiting) <= THREADS // 2 * service.workers
        waited = [page.result(timeout=30) for page in waiting]
    assert {page.headers.get("Retry-After") for page in at_once} == {"5"}
    assert {page.headers.get("Retry-After") for page in waited} == {None}
    assert all(page.json()["data"] == [] for page in (*at_once, *waited))


def test_a_key_that_is_revoked_while_it_waits_is_told_nothing(service: RunningService) -> None:
    passing = service.client("costs:read")
    cursor = cursor_of_now(passing)
    with ThreadPoolExecutor(1) as threads:
        waiting = threads.submit(service.same(passing).get, f"{FEED}?after={cursor}&wait=25")
        time.sleep(1)
        assert service.admin.ask("DELETE", f"/v1/keys/{passing.key.split('_')[1]}").status_code == 204
        assert waiting.result(timeout=10).status_code == 401


def test_a_cursor_belongs_to_its_key(service: RunningService, till: Client) -> None:
    refused = service.admin.get(f"{FEED}?after={cursor_of_now(till)}")
    assert (refused.status_code, refused.json()["errors"][0]["parameter"]) == (422, "after")


@pytest.mark.parametrize(("query", "parameter"), [
    ("from_revision=1", "from_date"), ("from_date=2026-11-25", "from_revision"),
    ("from_revision=999999&from_date=2026-11-25", "from_revision"),
    ("from_revision=1&from_date=2999-12-24", "from_date"), ("after=abc", "after"),
    ("wait=26", "wait"), ("limit=0", "limit")])
def test_a_beginning_that_cannot_be_is_refused_by_name(service: RunningService, query: str, parameter: str) -> None:
    refused = service.admin.get(f"{FEED}?{query}")
    assert (refused.status_code, refused.json()["errors"][0]["parameter"]) == (422, parameter)


def test_after_a_long_absence_a_till_is_told_the_days_it_may_not_look_back_at_in_one(service: RunningService) -> None:
    """Its cursor never expires, and the feed of its key begins 35 days back: what changed before comes as one step."""
    away = Follower(service.client("costs:read"))
    away.drain()
    post_topside(service, "26.00")
    post_topside(service, "27.00")
    service.move_to(WEDNESDAY + timedelta(days=60))
    post_topside(service, "28.00", "2027-01-20")
    caps = [change for change in away.drain() if change["dish"] == "grilled-cap"]
    assert [change["moved_by"] for change in caps] == ["earlier", "revision"]
    assert away.menu == full_read(away.client)
    newcomer = Follower(service.client("costs:read"))
    assert {change["moved_by"] for change in newcomer.drain()} == {"start", "revision"}
    assert newcomer.menu == away.menu
