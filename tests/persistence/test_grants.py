"""A role that lacks a grant on a real PostgreSQL: 503 that names the mend, reads that may be are answered, and all goes
on once the grant is there. And what a server says to who may not connect at all.

Source: PostgreSQL documentation, section 5.8 (privileges); appendix A: 42501, 3F000.
"""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

import psycopg
import pytest

from service import operating, wiring
from service.persistence.allowances import SqlBookings
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.persistence.schema_fit import fits
from service.settings import Settings
from service.use_cases.allowances import Allowances
from service.use_cases.keys import create_key
from service.use_cases.ledger_unavailable import GrantMissing, LedgerNotMigrated, LedgerUnavailable
from service.use_cases.snapshots import Snapshots
from service.watching import first_snapshot
from service.watching.first_snapshot import build_first
from service.watching.readiness import Readiness
from tests.postgres import PostgresServer
from tests.reliability.small_ledger import CHEF, fill
from tests.reliability.told_to_mend import told_to_mend
from tests.watching.serving import until

ROLES = {"waiter": "LOGIN", "stranger": "LOGIN", "sleeper": "NOLOGIN", "crowd": "LOGIN CONNECTION LIMIT 0"}
A_PRICE = {"supplier": "fenmoor", "amount": "15", "pack_quantity": "1", "pack_unit": "kg"}
TO_READ = "GRANT SELECT ON ALL TABLES IN SCHEMA public TO waiter"
Database = tuple[str, str]
"""The URL of its owner, and the key of its ledger's admin."""


def as_role(role: str, url: str) -> str:
    return url.replace("//seamcost@", f"//{role}@")


def say(url: str, *statements: str) -> None:
    with psycopg.connect(url, autocommit=True) as connection:
        for statement in statements:
            connection.execute(statement)  # type: ignore[call-overload]


@pytest.fixture(scope="module")
def filled(postgres_server: PostgresServer, postgres_template: str) -> Iterator[Database]:
    """A ledger of an owner, and roles that may nothing in it."""
    url = postgres_server.create(postgres_template)
    engines = open_engines(url)
    key = str(create_key(fill(engines), "admin", ["admin"], None, CHEF).document["key"])
    engines.dispose()
    say(url, *(f"CREATE ROLE {role} {may}" for role, may in ROLES.items()))
    yield url, key
    postgres_server.drop(url)
    say(postgres_server.url("postgres"), *(f"DROP ROLE {role}" for role in ROLES))


@pytest.fixture
def ledger_url(filled: Database) -> Iterator[str]:
    """That ledger; every grant of the test is taken back."""
    yield filled[0]
    say(filled[0], "DROP OWNED BY waiter")


@pytest.fixture
def ask(ledger_url: str, filled: Database) -> Iterator[Callable[..., Any]]:
    """Asks a service that connects as the waiter."""
    settings = Settings(database_url=as_role("waiter", ledger_url))
    with operating.opened_ledger(settings) as ledger:
        client = wiring.app_on(ledger, settings).test_client()
        yield partial(client.open, headers={"Authorization": f"Bearer {filled[1]}"})


def told(answer: Any, log: pytest.LogCaptureFixture, words: str) -> None:
    """It is 503 that says who mends it, and the log says what is to be granted."""
    told_to_mend(answer, log, "database-grant-missing", "GrantMissing", words,
                 "Grant it to the role: USAGE on the schema")
    assert "has to grant it" in answer.json["detail"]


def test_what_it_may_not_is_503_that_names_the_mend_and_goes_on_once_that_is_granted(
        ledger_url: str, ask: Callable[..., Any], caplog: pytest.LogCaptureFixture, tmp_path: Path) -> None:
    record = partial(ask, "/v1/ingredients/beef-topside/prices", method="POST", json=A_PRICE)
    told(ask("/v1/dish-costs"), caplog, "permission denied for table ledger_head")  # so that even who asks is not known
    say(ledger_url, TO_READ, "REVOKE SELECT ON price FROM waiter")
    told(ask("/v1/dish-costs"), caplog, "permission denied for table price")
    assert ask("/v1/keys").status_code == 200
    say(ledger_url, TO_READ)
    assert ask("/v1/dish-costs").json["data"][0]["status"] == "complete"
    before = ask("/v1/changes?limit=1").json["revision"]
    told(record(), caplog, "permission denied for table")
    assert ask("/v1/changes?limit=1").json["revision"] == before
    say(ledger_url, "GRANT INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO waiter")
    assert (record().status_code, ask("/v1/dish-costs").json["revision"]) == (201, before + 1)
    settings = Settings(database_url=as_role("waiter", ledger_url))  # what the log names is all that a service needs
    assert operating.verify(settings, {}) == []
    assert operating.backup(settings, tmp_path / "backup", lambda _: None, proven=True) is not None


def test_who_may_not_book_allowances_serves_on_a_part_of_them_and_the_log_says_so_once(
        ledger_url: str, caplog: pytest.LogCaptureFixture) -> None:
    say(ledger_url, TO_READ)
    engines, now = open_engines(as_role("waiter", ledger_url)), datetime(2026, 12, 2, 12, tzinfo=UTC)
    allowances = Allowances(SqlBookings(engines), lambda: now)
    refused = [allowances.take("till", 160).refused for _ in range(40)]
    engines.dispose()
    assert refused == [False] * 10 + [True] * 30, "a sixteenth of 160"
    [line] = [line for line in caplog.records if line.name == "seamcost.allowances"]
    assert line.message == "no allowance can be booked: keys get a sixteenth of theirs"
    assert line.exc_info is not None
    assert "permission denied for table allowance" in str(line.exc_info[1])


def test_a_service_that_starts_without_it_is_not_ready_until_it_is_there(
        ledger_url: str, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(first_snapshot, "PAUSES_FOR_A_HAND", 0.01)
    say(ledger_url, TO_READ, "REVOKE SELECT ON price FROM waiter")
    engines = open_engines(as_role("waiter", ledger_url))
    ledger = SqlLedger(engines)
    ready = Readiness(partial(fits, engines), partial(build_first, ledger, Snapshots(ledger)), lambda: True)
    assert ready.now() == {"database": True, "snapshot": False}
    until(lambda: ready.first.to_mend, 30)
    with pytest.raises(GrantMissing, match="permission denied for table price"):
        ready.soon()
    say(ledger_url, TO_READ)
    until(lambda: ready.first.is_there(30))
    assert ready.now() == {"database": True, "snapshot": True}
    assert [line.message for line in caplog.records] == ["the first snapshot waits for a ledger that can be read"]
    engines.dispose()


@pytest.mark.parametrize(("may", "words"), [
    ((), "permission denied for schema public"),
    (("REVOKE USAGE ON SCHEMA public FROM PUBLIC",), "no schema has been selected to create in")])
def test_who_migrates_without_it_is_told_whose_role_it_takes(may: tuple[str, ...], words: str, filled: Database,
                                                             postgres_server: PostgresServer) -> None:
    bare = postgres_server.create()
    say(bare, *may)
    with pytest.raises(GrantMissing, match=rf"{words}.*takes the role that owns them"):
        migrate(as_role("waiter", bare))
    postgres_server.drop(bare)


@pytest.mark.parametrize(("role", "database", "words"), [
    ("nobody_such", None, 'role "nobody_such" does not exist'), ("sleeper", None, "not permitted to log in"),
    ("crowd", None, "too many connections for role"), ("waiter", "nowhere", 'database "nowhere" does not exist'),
    ("stranger", None, "permission denied for database")])
def test_who_may_not_connect_is_told_by_503_and_the_log_has_the_servers_words(
        role: str, database: str | None, words: str, filled: Database, caplog: pytest.LogCaptureFixture) -> None:
    """No code comes with these (28000, 53300, 3D000, 42501): the client library has none before it is connected."""
    url, key = filled
    name = url.split("@/")[1].split("?")[0]
    say(url, f"REVOKE CONNECT ON DATABASE {name} FROM PUBLIC", f"GRANT CONNECT ON DATABASE {name} TO waiter, crowd")
    settings = Settings(database_url=as_role(role, url).replace(f"/{name}?", f"/{database or name}?"))
    with operating.opened_ledger(settings) as ledger:
        with pytest.raises(LedgerUnavailable, match=words):
            ledger.head()
        client = wiring.app_on(ledger, settings).test_client()
        answer = client.get("/v1/keys", headers={"Authorization": f"Bearer {key}"})
    say(url, f"GRANT CONNECT ON DATABASE {name} TO PUBLIC")
    assert (answer.status_code, answer.json["type"]) == (503, "/docs/problems/unavailable")  # type: ignore[index]
    assert any(words in str(line.exc_info[1]) for line in caplog.records if line.exc_info)


def test_a_database_that_cannot_hold_every_character_is_not_migrated(postgres_server: PostgresServer) -> None:
    """Else a name would be a defect as soon as it has a letter that the database lacks."""
    say(postgres_server.url("postgres"), "CREATE DATABASE western ENCODING 'LATIN1' LOCALE 'C' TEMPLATE template0")
    url = postgres_server.url("western")
    with pytest.raises(LedgerNotMigrated, match=r"encoding is LATIN1.*ENCODING 'UTF8'"):
        migrate(url)
    postgres_server.drop(url)
