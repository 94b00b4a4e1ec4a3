"""PostgreSQL restarts under load, and is lost amid a commit: 503 and no other fault, and it mends by itself."""

import json
import threading
from collections.abc import Iterator
from typing import Any

import psycopg
import pytest

from service.persistence.migrating import migrate
from tests.reliability.replicated_postgres import ReplicatedPostgres, replicated_postgres, told
from tests.reliability.requests_on_end import under_load, until
from tests.stories.running_service import RunningService, running_service


@pytest.fixture(scope="module")
def server() -> Iterator[ReplicatedPostgres]:
    with replicated_postgres() as running:
        yield running


@pytest.fixture(scope="module")
def service(server: ReplicatedPostgres, tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningService]:
    url = server.create()
    migrate(url)
    with running_service(url, tmp_path_factory.mktemp("restarted")) as running:
        yield running


def test_a_restart_under_load_is_answered_by_503_alone_and_mends_by_itself(
        service: RunningService, server: ReplicatedPostgres) -> None:
    with under_load(service) as load:
        for mode in ("fast", "immediate"):
            before = load.written()
            until(lambda before=before: load.written() > before + 5)
            server.restart(mode)
        before = load.written()
        until(lambda: load.written() > before + 5)
    assert {one.status for one in load.failed()} == {503}
    assert all(one.retry_after for one in load.failed())
    for name in ("writer-0", "writer-1"):
        assert int(service.admin.read(f"/v1/suppliers/{name}")["note"]) >= load.last_acknowledged(name)
    assert service.admin.get("/health/ready").status_code == 200


def test_a_server_without_a_free_place_is_503_and_not_500(service: RunningService) -> None:
    """Other programs may have taken all the connections that the server lets in."""
    url = service.settings.database_url
    taken: list[Any] = [_ordinary_session(url)]
    try:
        taken += _as_many_as_fit(url)
        taken[0].execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE backend_type = 'client backend' "
                         "AND application_name <> 'crowd'")
        taken += _as_many_as_fit(url)
        answer = service.admin.get("/v1/suppliers")
        assert (answer.status_code, answer.headers["Retry-After"]) == (503, "5")
    finally:
        for one in taken:
            one.close()
    assert service.admin.get("/v1/suppliers").status_code == 200


def test_a_commit_whose_answer_is_lost_is_told_as_an_outcome_that_is_not_known(
        service: RunningService) -> None:
    """The commit waits for a synchronous standby that never comes, and then its session is ended: the server has
    recorded it, and could not say so."""
    url = service.settings.database_url
    answers: list[Any] = []
    asking = threading.Thread(target=lambda: answers.append(service.same(service.admin).post(
        "/v1/keys", {"name": "lost", "scopes": ["costs:read"]}, idempotency_key='"lost-1"')))
    told(url, "ALTER SYSTEM SET synchronous_standby_names = 'nobody'")
    told(url, "SELECT pg_reload_conf()")
    try:
        asking.start()
        until(lambda: _ended_waiting(url, asking))
    finally:
        told(url, "ALTER SYSTEM RESET synchronous_standby_names")
        told(url, "SELECT pg_reload_conf()")
    assert [(one.status_code, one.json()["type"]) for one in answers] == [(503, "/docs/problems/outcome-unknown")]
    found = [key for key in service.admin.read("/v1/keys")["data"] if key["name"] == "lost"]
    assert len(found) == 1
    again = service.admin.post("/v1/keys", {"name": "lost", "scopes": ["costs:read"]}, idempotency_key='"lost-1"')
    assert again.status_code in (201, 409), again.text
    assert len([key for key in service.admin.read("/v1/keys")["data"] if key["name"] == "lost"]) == 1
    assert json.loads(answers[0].text)["detail"].startswith("The database was lost while it recorded this")


def _ended_waiting(url: str, asking: threading.Thread) -> bool:
    """End whoever waits for the standby: what is noted in passing waits too. Whether the request was answered."""
    told(url, "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE wait_event = 'SyncRep'")
    asking.join(0.2)
    return not asking.is_alive()


def _ordinary_session(url: str) -> Any:
    return psycopg.connect(url, autocommit=True, application_name="crowd")


def _as_many_as_fit(url: str) -> Iterator[Any]:
    while True:
        try:
            yield _ordinary_session(url)
        except psycopg.OperationalError:
            return
