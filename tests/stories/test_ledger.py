"""The ledger under concurrent writers, over HTTP and across worker processes: nothing lost, nothing twice, no gap.

Source: RFC 9110 sections 13.1.1 and 13.1.2 (If-Match, If-None-Match), RFC 6585 section 3 (428); the Idempotency-Key
draft of the IETF HTTPAPI group.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from functools import partial
from itertools import cycle
from pathlib import Path
from threading import Barrier, Event
from typing import Any

import psycopg
import pytest
import requests
from sqlalchemy import make_url

from tests.stories.running_service import WEDNESDAY, Client, RunningService

THREADS, EACH = 8, 5
Body = dict[str, Any]


@pytest.fixture(scope="module")
def admin(empty_service: RunningService) -> Client:
    """A kitchen of two ingredients and a supplier."""
    client = empty_service.admin
    client.keep("/v1/suppliers/mill", {"name": "Mill"})
    for code in ("flour", "sugar"):
        client.keep(f"/v1/ingredients/{code}", {"name": code, "kind": "dry goods", "base_unit": "kg"})
    return client


def at_once(service: RunningService, client: Client, tasks: Sequence[Callable[[Client], Any]]) -> list[Any]:
    """Run the tasks side by side, each over a connection of its own, starting together."""
    barrier = Barrier(len(tasks))

    def run(task: Callable[[Client], Any]) -> Any:
        own = service.same(client)
        own.get("/health/live")
        barrier.wait(30)
        return task(own)

    with ThreadPoolExecutor(len(tasks)) as pool:
        return [running.result(120) for running in [pool.submit(run, task) for task in tasks]]


def all_changes(client: Client) -> list[Body]:
    changes: list[Body] = []
    after = ""
    while True:
        page = client.read(f"/v1/changes?limit=50{after}")
        changes += page["data"]
        after = f"&after={page['next_cursor']}"
        if not page["more"]:
            return changes


def places(changes: Sequence[Body]) -> list[tuple[int, int]]:
    return [(change["revision"], change["entry"]) for change in changes]


def a_recipe(*recipes: str) -> Body:
    lines = [{"ingredient": "flour", "quantity": "1", "unit": "kg"}]
    return {"name": "A recipe", "makes_quantity": "1", "makes_unit": "kg",
            "lines": lines + [{"recipe": code, "quantity": "1", "unit": "kg"} for code in recipes]}


def test_no_update_is_lost_among_writers_of_one_record(empty_service: RunningService, admin: Client) -> None:
    path = "/v1/suppliers/guest-book"
    admin.keep(path, {"name": "Guest book", "note": "signed:"})

    def sign(client: Client, writer: int) -> list[int]:
        mine: list[int] = []
        while len(mine) < EACH:
            seen = client.read(path)
            signed = seen | {"note": f"{seen['note']} {writer}.{len(mine)}"}
            answer = client.put(path, signed, if_match=f'"{seen["revision"]}"')
            assert answer.status_code in (200, 412), answer.text
            if answer.status_code == 200:
                mine.append(answer.json()["revision"])
        return mine

    taken = at_once(empty_service, admin, [partial(sign, writer=writer) for writer in range(THREADS)])
    signatures = admin.read(path)["note"].split()[1:]
    assert sorted(signatures) == [f"{writer}.{step}" for writer in range(THREADS) for step in range(EACH)]
    assert len({revision for mine in taken for revision in mine}) == THREADS * EACH


def test_of_two_writers_who_would_close_a_loop_exactly_one_wins(empty_service: RunningService, admin: Client) -> None:
    for number in range(8):
        one, other = f"loop-{number}-a", f"loop-{number}-b"
        admin.keep(f"/v1/recipes/{one}", a_recipe())
        admin.keep(f"/v1/recipes/{other}", a_recipe())
        answers: list[requests.Response] = at_once(empty_service, admin, [
            lambda client, code=code, used=used: client.put(f"/v1/recipes/{code}", a_recipe(used), if_match="*")
            for code, used in ((one, other), (other, one))])
        assert sorted(answer.status_code for answer in answers) == [200, 422]
        (refused,) = [answer for answer in answers if answer.status_code == 422]
        assert refused.json()["type"] == "/docs/problems/recipe-loop"


def test_of_one_who_retires_and_one_who_uses_exactly_one_wins(empty_service: RunningService, admin: Client) -> None:
    for number in range(6):
        code = f"fought-over-{number}"
        admin.keep(f"/v1/recipes/{code}", a_recipe())
        retiring, using = at_once(empty_service, admin, [
            lambda client, code=code: client.ask("DELETE", f"/v1/recipes/{code}", if_match="*"),
            lambda client, code=code: client.put(f"/v1/recipes/user-of-{code}", a_recipe(code))])
        assert (retiring.status_code, using.status_code) in ((204, 422), (409, 201))
        there = admin.get(f"/v1/recipes/{code}").status_code
        assert (there == 200) == (using.status_code == 201)


def test_of_breakdowns_put_in_use_at_once_one_makes_the_cut(empty_service: RunningService, admin: Client) -> None:
    def put_in_use(client: Client, number: int) -> int:
        fine = {"cut": "fine-flour", "name": "Fine", "role": "main", "expected_yield": f"0.{number + 1}"}
        return client.put(f"/v1/breakdowns/sieved-{number}", {
            "name": "Sieved", "input": {"ingredient": "flour"}, "method": "weight", "outputs": [fine]}).status_code

    assert at_once(empty_service, admin, [partial(put_in_use, number=number) for number in range(6)]) == [201] * 6
    in_use = [row["code"] for row in admin.everything("/v1/breakdowns") if row["in_use"]]
    assert len(in_use) == 1
    assert admin.read("/v1/cut-costs/fine-flour")["breakdown"] == in_use[0]


def test_of_writers_who_create_one_record_exactly_one_does(empty_service: RunningService, admin: Client) -> None:
    answers = at_once(empty_service, admin, [
        lambda client, number=number: client.put("/v1/suppliers/first-come", {"name": f"Writer {number}"},
                                                 if_none_match="*") for number in range(THREADS)])
    assert sorted(answer.status_code for answer in answers) == [201] + [412] * (THREADS - 1)
    (winner,) = [answer.json() for answer in answers if answer.status_code == 201]
    assert admin.read("/v1/suppliers/first-come") == winner


def test_the_feed_gives_everything_once_and_in_order_while_writers_write(
    empty_service: RunningService, admin: Client
) -> None:
    """Readers hold cursors of their own and go from worker to worker; each must have read the same in the end."""
    done = Event()
    workers = [*empty_service.clients_of_every_worker(admin).values()]
    assert len(workers) == 2
    before = places(all_changes(admin))

    def write(client: Client, number: int) -> None:
        for step in range(EACH * 2):
            price = {"supplier": "mill", "amount": f"{step}.{number}", "pack_quantity": "1", "pack_unit": "kg"}
            assert client.post("/v1/ingredients/flour/prices", price).status_code == 201

    def follow(start: int) -> list[tuple[int, int]]:
        seen: list[tuple[int, int]] = []
        turns = cycle([empty_service.same(admin), *workers][start:start + 2] if start else [empty_service.same(admin)])
        after = ""
        while True:
            last = done.is_set()
            page = next(turns).read(f"/v1/changes?limit=7{after}")
            seen += places(page["data"])
            after = f"&after={page['next_cursor']}"
            if last and not page["more"]:
                return seen

    with ThreadPoolExecutor(THREADS) as pool:
        reading = [pool.submit(follow, start) for start in (0, 1)]
        writing = [pool.submit(write, empty_service.same(admin), number) for number in range(4)]
        for writer in writing:
            writer.result(120)
        done.set()
        followed = [reader.result(120) for reader in reading]
    everything = places(all_changes(admin))
    assert len(everything) == len(before) + 4 * EACH * 2
    assert followed == [everything, everything]
    assert everything == sorted(set(everything))


def test_revisions_have_no_gap_and_entries_count_from_one(admin: Client) -> None:
    """After all that was written above, refused writes and races included."""
    changes = all_changes(admin)
    revisions = sorted({change["revision"] for change in changes})
    assert revisions == list(range(1, admin.head_revision() + 1))
    for revision in revisions:
        entries = [change["entry"] for change in changes if change["revision"] == revision]
        assert entries == list(range(1, len(entries) + 1))


def test_a_repeated_request_has_one_effect_and_the_same_answer(empty_service: RunningService, admin: Client) -> None:
    price = {"supplier": "mill", "amount": "1.05", "pack_quantity": "1", "pack_unit": "kg"}
    before = admin.head_revision()
    answers = at_once(empty_service, admin, [lambda client: client.post(
        "/v1/ingredients/sugar/prices", price, idempotency_key='"order-4711"')] * THREADS)
    assert {answer.status_code for answer in answers} == {201}
    assert len({answer.content for answer in answers}) == 1
    assert [answer.headers.get("Idempotency-Replayed") for answer in answers].count("true") == THREADS - 1
    assert admin.head_revision() == before + 1
    assert len(admin.read("/v1/ingredients/sugar/prices")["data"]) == 1


def test_an_idempotency_key_stands_for_one_request(admin: Client) -> None:
    price = {"supplier": "mill", "amount": "2", "pack_quantity": "1", "pack_unit": "kg"}
    path, key = "/v1/ingredients/flour/prices", '"order-4712"'
    assert admin.post(path, price, idempotency_key=key).status_code == 201
    before = admin.head_revision()
    reused = admin.post(path, price | {"amount": "3"}, idempotency_key=key)
    assert (reused.status_code, reused.json()["type"]) == (422, "/docs/problems/idempotency-key-reused")
    assert admin.head_revision() == before
    assert admin.post("/v1/ingredients/sugar/prices", price, idempotency_key=key).status_code == 201


def test_an_idempotency_key_is_its_owners_own(empty_service: RunningService, admin: Client) -> None:
    price = {"supplier": "mill", "amount": "2.5", "pack_quantity": "1", "pack_unit": "kg"}
    answers = [client.post("/v1/ingredients/flour/prices", price, idempotency_key='"order-4713"')
               for client in (admin, empty_service.client("prices:write"))]
    assert [answer.status_code for answer in answers] == [201, 201]
    assert answers[0].json()["id"] != answers[1].json()["id"]


def test_a_refused_request_keeps_no_answer(admin: Client) -> None:
    path, key = "/v1/ingredients/flour/prices", '"order-4714"'
    price = {"supplier": "baker", "amount": "2", "pack_quantity": "1", "pack_unit": "kg"}
    assert admin.post(path, price, idempotency_key=key).status_code == 422
    admin.keep("/v1/suppliers/baker", {"name": "Baker"})
    assert admin.post(path, price, idempotency_key=key).status_code == 201


def test_the_repeat_of_a_key_shows_no_secret(admin: Client) -> None:
    body, key = {"name": "till", "scopes": ["costs:read"]}, '"key-1"'
    first, again = (admin.post("/v1/keys", body, idempotency_key=key) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 201)
    assert again.json() == first.json() | {"key": None}
    assert first.json()["key"].startswith("seam_")
    assert "no-store" in first.headers["Cache-Control"]
    assert all(first.json()["key"] not in str(change) for change in all_changes(admin))


def test_no_file_of_the_database_holds_a_key(empty_service: RunningService, admin: Client) -> None:
    """Nor its random part: the last in the key's text."""
    key = admin.post("/v1/keys", {"name": "till", "scopes": ["read"]}, idempotency_key='"key-2"').json()["key"]
    assert Client(empty_service.address, key, admin.validator).get("/v1/suppliers").status_code == 200
    url = make_url(empty_service.settings.database_url)
    if url.get_backend_name() == "sqlite":
        kept = b"".join(path.read_bytes() for path in Path(url.database or "").parent.glob("ledger.db*"))
    else:
        with psycopg.connect(empty_service.settings.database_url) as connection:
            tables = [name for (name,) in connection.execute(
                "SELECT table_name FROM information_schema.tables WHERE table_schema = 'public'")]
            kept = b"".join(str(connection.execute(f'SELECT * FROM "{name}"').fetchall()).encode() for name in tables)
    assert b"key-2" in kept
    assert key.split("_", 2)[2].encode() not in kept


def test_a_put_of_what_is_in_force_takes_no_revision_and_needs_no_tag(admin: Client) -> None:
    path = "/v1/recipes/dough"
    admin.keep(path, a_recipe())
    before, record = admin.head_revision(), admin.read(path)
    for body in (a_recipe(), record):
        answer = admin.put(path, body)
        assert (answer.status_code, answer.json(), "ETag" in answer.headers) == (200, record, False)
    assert admin.head_revision() == before


def test_a_stale_tag_is_told_what_changed_since_and_by_whom(empty_service: RunningService, admin: Client) -> None:
    path = "/v1/suppliers/told"
    admin.keep(path, {"name": "Told"})
    seen = admin.get(path).headers["ETag"]
    colleague = empty_service.client("read", "prices:write")
    changed = colleague.put(path, {"name": "Told otherwise"}, if_match=seen).json()
    stale = admin.put(path, {"name": "Told again"}, if_match=seen)
    assert (stale.status_code, stale.json()["type"]) == (412, "/docs/problems/precondition-failed")
    (change,) = stale.json()["changes"]
    assert (change["revision"], change["who"], change["action"]) == (changed["revision"], "read prices:write", "keep")
    assert change["record"]["name"] == "Told otherwise"
    assert admin.read(path)["name"] == "Told otherwise"


def test_conditions_are_told_in_the_order_404_428_412(admin: Client) -> None:
    path = "/v1/suppliers/ordered"
    for headers in ({}, {"if_match": '"1"'}, {"if_match": "*"}):
        assert admin.ask("DELETE", path, **headers).status_code == 404
    admin.keep(path, {"name": "Ordered"})
    assert [admin.ask("DELETE", path, **headers).status_code for headers in (
        {}, {"if_match": '"1"'}, {"if_match": 'W/"1"'})] == [428, 412, 412]
    assert [admin.put(path, {"name": "Other"}, **headers).status_code for headers in (
        {}, {"if_match": '"1"'}, {"if_none_match": "*"})] == [428, 412, 412]
    assert admin.put(path, {"name": "Other", "nonsense": 1}).status_code == 422
    tag = admin.get(path).headers["ETag"]
    assert admin.put(path, {"name": "Other"}, if_match=f'"0", {tag}').status_code == 200
    assert admin.ask("DELETE", path, if_match="*").status_code == 204


def test_what_is_not_there_cannot_be_replaced(admin: Client) -> None:
    for tag in ('"1"', "*"):
        answer = admin.put("/v1/suppliers/nobody", {"name": "Nobody"}, if_match=tag)
        assert (answer.status_code, answer.json()["type"]) == (412, "/docs/problems/precondition-failed")
    assert admin.get("/v1/suppliers/nobody").status_code == 404


@pytest.mark.parametrize("tag", ["1", '"1', "nonsense", ""])
def test_what_is_no_tag_is_malformed(admin: Client, tag: str) -> None:
    admin.keep("/v1/suppliers/tagged", {"name": "Tagged"})
    answer = admin.put("/v1/suppliers/tagged", {"name": "Other"}, if_match=tag)
    assert (answer.status_code, answer.json()["errors"][0]["header"]) == (400, "If-Match")


def test_the_defaults_of_the_settings_can_be_replaced_by_their_tag(admin: Client) -> None:
    """What GET gives before anything is recorded has a tag like any other."""
    seen = admin.get("/v1/settings")
    assert (seen.headers["ETag"], seen.json()["revision"]) == ('"0"', 0)
    assert admin.put("/v1/settings", {"currency": "USD"}, if_match='"7"').status_code == 412
    assert admin.put("/v1/settings", seen.json() | {"time_zone": "Europe/London"}, if_match='"0"').status_code == 200
    assert admin.put("/v1/settings", {"time_zone": "UTC"}, if_match='"0"').status_code == 412


def test_an_answer_is_kept_for_seven_days(empty_service: RunningService, admin: Client) -> None:
    """The last of these stories: afterwards it is the week after next."""
    price = {"supplier": "mill", "amount": "4", "pack_quantity": "1", "pack_unit": "kg", "effective_from": "2026-01-01"}
    path, key = "/v1/ingredients/flour/prices", '"order-4715"'
    ids = []
    for days in (0, 6, 8):
        empty_service.move_to(WEDNESDAY + timedelta(days=days))
        ids.append(admin.post(path, price, idempotency_key=key).json()["id"])
    assert ids[0] == ids[1] != ids[2]
