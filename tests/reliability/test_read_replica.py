"""The service on a streaming standby: costs are read there as of what has arrived, and each answer says how fresh.

What would change something is refused as such; what is noted in passing is left out, and the standby is not asked to
note it again and again. Source: PostgreSQL documentation, section 26.4 (hot standby).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from service import operating, wiring
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.settings import Settings
from service.use_cases.keys import create_key
from service.use_cases.ledger_unavailable import Undone
from service.use_cases.ports import Asker
from tests.postgres import PostgresServer
from tests.reliability.replicated_postgres import ReplicatedPostgres, replicated_postgres, told
from tests.reliability.requests_on_end import until
from tests.stories.random_writes import DEMO
from tests.stories.running_service import RunningService, running_service

A_PRICE = {"supplier": "fenmoor", "pack_quantity": "1", "pack_unit": "kg"}


@dataclass
class Pair:
    """The service on a primary, asked in process, and on its standby, over HTTP."""

    url: str
    writing: FlaskClient
    by: dict[str, str]
    copy_url: str
    copy: RunningService
    standby: PostgresServer

    def keep(self, method: str, path: str, body: Any) -> Any:
        answer = self.writing.open(path, method=method, json=body, headers=self.by)
        assert answer.status_code in (200, 201), answer.text
        return answer.json

    def read(self, path: str) -> Any:
        answer = self.writing.get(path, headers=self.by)
        assert answer.status_code == 200, answer.text
        return answer.json

    def catch_up(self) -> None:
        """Wait until what was recorded has arrived: by the revision that each of the two tells."""
        head = self.read("/v1/changes?limit=1")["revision"]
        until(lambda: self.copy.admin.head_revision() >= head)


@pytest.fixture(scope="module")
def primary() -> Iterator[ReplicatedPostgres]:
    with replicated_postgres() as server:
        yield server


@pytest.fixture(scope="module")
def pair(primary: ReplicatedPostgres, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pair]:
    url = primary.create()
    migrate(url)
    settings = Settings(database_url=url)
    with operating.opened_ledger(settings) as ledger, primary.standby() as standby:
        key = str(create_key(ledger, "admin", ["admin"], None, Asker("cli", "test", "test")).document["key"])
        writing, by = wiring.app_on(ledger, settings).test_client(), {"Authorization": f"Bearer {key}"}
        for asked in DEMO:
            assert writing.open(asked.path, method=asked.method, json=asked.body, headers=by).status_code < 300
        copy_url = standby.url(url.split("@/")[1].split("?")[0])
        stands = "SELECT revision FROM ledger_head"
        until(lambda: told(copy_url, stands) == told(url, stands))
        with running_service(copy_url, tmp_path_factory.mktemp("copy"), key=key) as copy:
            yield Pair(url, writing, by, copy_url, copy, standby)


def test_a_copy_is_ready_and_answers_every_kind_of_read(pair: Pair) -> None:
    assert pair.copy.admin.get("/health/ready").status_code == 200
    for path in ("/v1/dish-costs", "/v1/cut-costs", "/v1/recipe-costs", "/v1/dishes", "/v1/prices", "/v1/changes",
                 "/v1/dish-costs/changes", "/v1/margin-alerts", "/v1/price-movements?from=2026-11-20&to=2026-11-25",
                 "/v1/dish-costs?as_of=2026-11-20&known_at=20", "/v1/breakdowns/topside-seamed"):
        answer = pair.copy.admin.get(path)
        assert answer.status_code == 200, f"{path}: {answer.status_code} {answer.text}"
    assert pair.copy.admin.session.get(f"{pair.copy.address}/docs", timeout=60).status_code == 200


def test_what_it_shows_is_the_primary_s_to_the_byte_and_says_how_fresh(pair: Pair) -> None:
    """The freshness is measurable: the revision of an answer, beside the primary's."""
    pair.keep("POST", "/v1/ingredients/beef-topside/prices", A_PRICE | {"amount": "15.30"})
    pair.catch_up()
    here = pair.copy.admin.get("/v1/dish-costs?as_of=2026-11-25", accept_encoding="identity")
    there = pair.writing.get("/v1/dish-costs?as_of=2026-11-25", headers=pair.by)
    assert here.content == there.data
    assert here.headers["ETag"] == there.headers["ETag"]
    assert here.json()["revision"] == there.json["revision"]


def test_a_revision_that_has_not_arrived_is_told_so_and_read_once_it_has(pair: Pair) -> None:
    told(pair.copy_url, "SELECT pg_wal_replay_pause()")
    try:
        until(lambda: told(pair.copy_url, "SELECT pg_get_wal_replay_pause_state()") == ("paused",))
        before = pair.copy.admin.head_revision()
        kept = pair.keep("POST", "/v1/ingredients/beef-topside/prices", A_PRICE | {"amount": "16.10"})
        revision = int(kept["id"].partition("-")[0])
        answer = pair.copy.admin.get(f"/v1/dish-costs?known_at={revision}")
        assert (answer.status_code, before) == (422, revision - 1)
        assert str(before) in answer.json()["detail"], answer.text
        assert pair.copy.admin.read("/v1/dish-costs")["revision"] == before
    finally:
        told(pair.copy_url, "SELECT pg_wal_replay_resume()")
    pair.catch_up()
    assert pair.copy.admin.read(f"/v1/dish-costs?known_at={revision}")["revision"] == revision


@pytest.mark.parametrize(("method", "path", "body"), [
    ("PUT", "/v1/suppliers/holt", {"name": "Holt"}),
    ("POST", "/v1/ingredients/beef-topside/prices", A_PRICE | {"amount": "15.00"}),
    ("POST", "/v1/keys", {"name": "till", "scopes": ["costs:read"]}),
    ("DELETE", "/v1/dishes/grilled-cap", None)])
def test_a_write_is_refused_as_one_for_the_primary(pair: Pair, method: str, path: str, body: Any) -> None:
    headers = {"if_match": "*"} if method == "DELETE" else {}
    answer = pair.copy.admin.ask(method, path, body, **headers)
    assert (answer.status_code, answer.json()["type"]) == (503, "/docs/problems/copy-only-read")
    assert answer.headers["Retry-After"]


def test_what_is_noted_in_passing_is_left_out_and_seldom_tried(pair: Pair) -> None:
    """Each request would note the use of its key, and count its allowance: the standby's log has what it refused."""
    before = _refused(pair.standby)
    for _ in range(150):
        assert pair.copy.admin.get("/v1/dish-costs/grilled-cap").status_code == 200
    assert _refused(pair.standby) - before < 30


def test_an_allowance_holds_in_each_worker_and_is_all_there(pair: Pair) -> None:
    """Nothing can be booked: a key that may ask forty times a minute may do so of each worker, and not more."""
    made = pair.keep("POST", "/v1/keys", {"name": "till", "scopes": ["costs:read"], "requests_per_minute": 40})
    pair.catch_up()
    session = pair.copy.admin.session
    came = [session.get(f"{pair.copy.address}/v1/dish-costs/grilled-cap", timeout=60,
                        headers={"Authorization": f"Bearer {made['key']}"}).status_code for _ in range(200)]
    assert came[:40] == [200] * 40
    assert set(came) == {200, 429}
    assert came.count(200) <= 2 * pair.copy.workers * 40, "a minute may have turned"


def test_a_read_that_the_standby_cancels_to_go_on_replaying_is_undone_and_asked_again(pair: Pair) -> None:
    """A migration on the primary takes a table; the standby ends whoever reads it meanwhile."""
    engines = open_engines(pair.copy_url)
    try:
        with pytest.raises(Undone), engines.read() as connection:
            connection.exec_driver_sql("SELECT count(*) FROM supplier_version")
            told(pair.url, "ALTER TABLE supplier_version ADD COLUMN rating integer")
            until(lambda: _is_over(connection))
        assert SqlLedger(engines).head().revision > 0
    finally:
        engines.dispose()


def _is_over(connection: Any) -> bool:
    connection.exec_driver_sql("SELECT count(*) FROM supplier_version")
    return False


def _refused(standby: PostgresServer) -> int:
    """What the standby would not do, by its log."""
    return (Path(standby.socket_folder) / "log").read_text(errors="replace").count("ERROR:  cannot")
