"""What a scrape says of the ledger, its outbox, its snapshots and its locks is what was done, by the API and the clock.

On PostgreSQL, where no deliverer comes with the service: what is due stays due. Whatever moves here moves something
else than the figure beside it, so that no two of them can stand for each other.
"""

import threading
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import psycopg
import pytest
import requests
from prometheus_client.metrics_core import Metric

from service import operating
from service.domain.timeline import Place
from service.domain.webhook import DeliveryState
from service.persistence.ledger import SqlLedger
from service.settings import Settings
from service.use_cases.keys import create_key
from service.use_cases.ports import Asker
from service.use_cases.webhook_sending import Came
from service.use_cases.webhooks_port import Told, Tried
from tests.persistence.test_webhook_promises import MINUTE, a_message, keep
from tests.postgres import PostgresServer
from tests.watching.serving import Served, served, until

Families = Mapping[str, Metric]
BEAT_AGO, DUE_AGO, HELD_SECONDS = timedelta(seconds=40), timedelta(seconds=100), 0.3


@dataclass(frozen=True)
class Kitchen:
    """A service with one worker, and the ways to what it stands on."""

    service: Served
    ledger: SqlLedger
    database_url: str
    key: str

    def ask(self, method: str, path: str, json: Any = None) -> Any:
        answer = requests.request(method, self.service.url + path, timeout=30, json=json,
                                  headers={"Authorization": f"Bearer {self.key}"})
        assert answer.ok, answer.text
        return answer.json()

    def keep_supplier(self, name: str) -> int:
        """The revision of a write that can move figures."""
        return int(self.ask("PUT", f"/v1/suppliers/{name}", {"name": name})["revision"])


@pytest.fixture(scope="module")
def kitchen(postgres_server: PostgresServer, postgres_template: str, tmp_path_factory: pytest.TempPathFactory
            ) -> Iterator[Kitchen]:
    url = postgres_server.create(postgres_template)
    with (operating.opened_ledger(Settings(database_url=url)) as ledger,
          served(url, tmp_path_factory.mktemp("scraped"), workers=1) as service):
        made = create_key(ledger, "admin", ["admin"], None, Asker("cli", "x", "x")).document
        yield Kitchen(service, ledger, url, str(made["key"]))
    postgres_server.drop(url)


def value(families: Families, name: str, **labels: str) -> float:
    """The one sample of that name."""
    [found] = [one.value for family in families.values() for one in family.samples
               if one.name == name and labels.items() <= one.labels.items()]
    return found


def total(families: Families, name: str) -> float:
    """All samples of that name together; nothing where there is none yet."""
    return sum(one.value for family in families.values() for one in family.samples if one.name == name)


def test_the_head_and_the_figures_revision_are_those_of_the_ledger(kitchen: Kitchen) -> None:
    moved = kitchen.keep_supplier("fenmoor")
    for name in ("till-1", "till-2"):
        kitchen.ask("POST", "/v1/keys", {"name": name, "scopes": ["costs:read"]})
    feed, families = kitchen.ask("GET", "/v1/changes?limit=200"), kitchen.service.metrics()
    assert feed["revision"] == moved + 2
    assert value(families, "seamcost_ledger_head_revision") == feed["revision"]
    assert value(families, "seamcost_ledger_figures_revision") == moved
    made_at = datetime.fromisoformat(feed["data"][-1]["made_at"]).timestamp()
    assert value(families, "seamcost_ledger_head_timestamp_seconds") == pytest.approx(made_at, abs=0.001)
    assert value(families, "seamcost_margin_alert_walk_behind_revisions") == moved  # nobody walks here


def test_a_snapshot_says_of_which_revision_it_is_when_it_was_built_and_how_long_that_took(kitchen: Kitchen) -> None:
    before, begun = kitchen.service.metrics(), time.time()
    moved = kitchen.keep_supplier("saltmarsh")
    kitchen.ask("GET", "/v1/dish-costs")
    ended = time.time()
    kitchen.ask("POST", "/v1/keys", {"name": "till-3", "scopes": ["costs:read"]})
    after = kitchen.service.metrics()
    built = "seamcost_snapshot_build_duration_seconds"
    assert value(after, "seamcost_snapshot_revision") == moved
    assert begun <= value(after, "seamcost_snapshot_built_timestamp_seconds") <= ended
    assert total(after, f"{built}_count") == total(before, f"{built}_count") + 1
    assert 0 < total(after, f"{built}_sum") - total(before, f"{built}_sum") < ended - begun
    assert {one.labels["how"] for one in after[built].samples} <= {"compiled", "recompiled", "advanced"}


def test_an_outbox_that_nobody_empties_is_told_with_its_ages(kitchen: Kitchen) -> None:
    started = datetime.now(UTC)
    store = kitchen.ledger.webhooks
    kept = keep(kitchen.ledger)
    told = kitchen.keep_supplier("wether")
    store.tell(store.cursor(), Told((), Place(told, started.date()), 0, 0, webhooks={"wh-1": kept.revision}), started)
    for number, due in ((1, started - 2 * DUE_AGO), (2, started - DUE_AGO), (3, started - DUE_AGO / 2),
                        (4, started + MINUTE)):
        store.send_ping(a_message(number), due)
    [first] = store.claim("wh-1", 1, started, started + MINUTE)
    store.record([Tried(first, started, Came.TIMED_OUT, None, DeliveryState.DEAD)])
    never = value(kitchen.service.metrics(), "seamcost_deliverer_heartbeat_age_seconds")
    store.beat(started - BEAT_AGO)
    moved = kitchen.keep_supplier("holm")
    before = datetime.now(UTC)
    families = kitchen.service.metrics()
    after = datetime.now(UTC)
    assert never == float("inf")
    assert value(families, "seamcost_webhooks_active") == 1
    assert value(families, "seamcost_webhook_outbox_messages") == 3
    assert value(families, "seamcost_webhook_dead_letter_messages") == 1
    assert value(families, "seamcost_webhook_tries_total", came="timed_out") == 1
    assert value(families, "seamcost_webhook_telling_behind_revisions") == moved - told == 1
    for name, since in (("seamcost_webhook_outbox_oldest_due_age_seconds", started - DUE_AGO),
                        ("seamcost_deliverer_heartbeat_age_seconds", started - BEAT_AGO)):
        assert (before - since).total_seconds() <= value(families, name) <= (after - since).total_seconds(), name


def test_a_write_that_the_database_undid_is_counted_and_so_is_its_wait_for_the_lock(kitchen: Kitchen) -> None:
    waits = "seamcost_ledger_lock_wait_duration_seconds"
    before, after = next(found for found in (undone_once(kitchen) for _ in range(5)) if found)
    assert value(after, "seamcost_database_retries_total") == value(before, "seamcost_database_retries_total") + 1
    assert value(after, f"{waits}_count") == value(before, f"{waits}_count") + 2
    assert HELD_SECONDS <= value(after, f"{waits}_sum") - value(before, f"{waits}_sum") < 30


def undone_once(kitchen: Kitchen) -> tuple[Families, Families] | None:
    """What was told before and after a write that the database undid once, and that had to wait the second time.

    A session of another program takes what the write needs second, and then asks for what it has first. The server
    undoes whose patience ends first while both wait: ours has more, but on a busy machine may come late; then None.
    """
    before = kitchen.service.metrics()
    writing = threading.Thread(target=kitchen.keep_supplier, args=(f"drove-{time.monotonic_ns()}",))
    with psycopg.connect(kitchen.database_url) as other, psycopg.connect(kitchen.database_url, autocommit=True) as eye:
        def the_write_waits() -> bool:
            return eye.execute("SELECT 1 FROM pg_stat_activity WHERE wait_event_type = 'Lock' AND pid <> %s "
                               "AND datname = current_database()", [other.info.backend_pid]).fetchone() is not None

        other.execute("SET deadlock_timeout = '4s'")
        other.execute("LOCK TABLE revision IN SHARE ROW EXCLUSIVE MODE")
        writing.start()
        until(the_write_waits)
        try:
            other.execute("SELECT 1 FROM ledger_head FOR UPDATE")  # had once the write is undone
        except psycopg.errors.DeadlockDetected:
            other.rollback()
            writing.join()
            return None
        until(the_write_waits)
        time.sleep(HELD_SECONDS)
    writing.join()
    return before, kitchen.service.metrics()
