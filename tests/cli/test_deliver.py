"""Who delivers webhooks: `seamcost deliver`, and on the embedded database one of the workers of `seamcost serve`."""

import os
import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import requests

from service import operating
from service.settings import Settings
from service.use_cases.keep_webhook import WebhookAsked, create_webhook
from service.use_cases.read_deliveries import send_ping
from tests.cli.conftest import Run, Start
from tests.cli.test_serve import SECONDS_TO_STOP, Served, introduced, stopped
from tests.receivers import Receiver, a_receiver
from tests.use_cases.webhooks_heard import OFFICE, any_target

LOOPBACK = {"SEAMCOST_WEBHOOK_NETWORKS": "127.0.0.0/8"}


def a_webhook(served: Served, receiver: Receiver) -> str:
    made = requests.post(f"{served.url}/v1/webhooks", json={"url": receiver.url, "events": ["price.changed"]},
                         headers={"Authorization": f"Bearer {served.key}"}, timeout=30)
    assert made.status_code == 201, made.text
    return str(made.json()["id"])


def ping(served: Served, webhook: str) -> None:
    sent = requests.post(f"{served.url}/v1/webhooks/{webhook}/ping", headers={"Authorization": f"Bearer {served.key}"},
                         timeout=30)
    assert sent.status_code == 202, sent.text


def workers_of(served: Served) -> list[int]:
    pid = served.process.pid
    return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def until(comes_about: Callable[[], Any], seconds: float = 30) -> None:
    end = time.monotonic() + seconds
    while not comes_about():
        assert time.monotonic() < end, "it did not come about"
        time.sleep(0.1)


def test_the_embedded_service_delivers_by_itself_also_after_its_workers_were_killed(
    start: Start, demo_file: Path
) -> None:
    assert demo_file.exists()
    with a_receiver() as receiver:
        served = introduced(start("serve", "--demo", "--port", "0", **LOOPBACK), "Try:")
        webhook = a_webhook(served, receiver)
        ping(served, webhook)
        receiver.wait_for(1)
        before = workers_of(served)
        for turn, pid in enumerate(before, start=2):
            os.kill(pid, signal.SIGKILL)
            until(lambda: len(set(workers_of(served)) - set(before)) > 0)
            ping(served, webhook)
            receiver.wait_for(turn)
        status, seconds, _ = stopped(served.process, signal.SIGTERM)
        assert (status, seconds < SECONDS_TO_STOP) == (0, True)
    assert len({one.fields["webhook-id"] for one in receiver.requests}) == len(before) + 1


def test_deliver_once_delivers_what_is_due_and_ends(run: Run, database_url: str, tmp_path: Path) -> None:
    settings = Settings(database_url=database_url)
    with a_receiver() as receiver, operating.opened_ledger(settings) as ledger:
        made = create_webhook(ledger, WebhookAsked(receiver.url, ("price.changed",)), True, any_target, OFFICE)
        send_ping(ledger, str(made.document["id"]), operating.now(settings))
        done = run("deliver", "--once", "--database", database_url, **LOOPBACK)
        assert (done.exit_code, done.stdout) == (0, "")
        assert len(receiver.requests) == 1


def test_deliver_stops_when_told_to_and_says_so_when_there_is_no_ledger(
    start: Start, run: Run, database_url: str, tmp_path: Path
) -> None:
    process = start("deliver", "--database", database_url, "--heartbeat", "heartbeat")
    assert process.stderr is not None
    assert process.stderr.readline() == "Delivering webhook messages. Ctrl-C stops it.\n"
    until((tmp_path / "heartbeat").exists)
    status, seconds, said = stopped(process, signal.SIGTERM)
    assert (status, seconds < SECONDS_TO_STOP, said) == (0, True, "")
    missing = run("deliver", "--once", "--database", "sqlite:///nothing.db")
    assert missing.exit_code == 1
    assert "seamcost migrate" in missing.stderr
    nowhere = run("deliver", "--once", "--heartbeat", "nowhere/heartbeat")
    assert (nowhere.exit_code, "in no folder that is there" in nowhere.stderr) == (2, True)
