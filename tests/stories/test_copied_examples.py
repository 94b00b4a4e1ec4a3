"""The examples that people copy run as they stand, each as a process of its own, against the running service.

What they print is held against plain requests. The receiver of webhooks is held to the service's own signature and to
that of the library standardwebhooks. Source: Standard Webhooks 1.0.0, "Verifying signatures".
"""

import csv
import importlib.util
import json
import os
import secrets
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import requests
from standardwebhooks import Webhook

from service.use_cases.webhook_signature import new_secret, signed_fields
from tests.launching import TOP
from tests.stories.feed_followers import full_read
from tests.stories.running_service import Client, RunningService

EXAMPLES = TOP / "openapi" / "examples" / "clients"
TOPSIDE = "/v1/ingredients/beef-topside/prices"
SECONDS = 60


@pytest.fixture(scope="module")
def buyer(service: RunningService) -> Client:
    return service.client("read", "prices:write")


def environment(client: Client) -> dict[str, str]:
    return {**os.environ, "SEAMCOST_URL": client.address, "SEAMCOST_KEY": client.key}


def run(client: Client, folder: Path, *command: str) -> "subprocess.CompletedProcess[str]":
    """Run an example by its name, from another folder."""
    program = "sh" if command[0].endswith(".sh") else sys.executable
    return subprocess.run([program, str(EXAMPLES / command[0]), *command[1:]], cwd=folder, env=environment(client),
                          capture_output=True, text=True, timeout=SECONDS, check=False)


def output(client: Client, folder: Path, *command: str) -> str:
    done = run(client, folder, *command)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.mark.usefixtures("curl")
def test_curl_reads_a_dish_and_the_menu_once(service: RunningService, tmp_path: Path) -> None:
    till = service.client("costs:read")
    statuses = []
    for _ in range(2):
        dish, _, status = output(till, tmp_path, "read-dish-costs.sh", "grilled-cap").rpartition("}")
        assert json.loads(dish + "}") == till.read("/v1/dish-costs/grilled-cap")
        statuses.append(status.strip())
        with (tmp_path / "dish-costs.csv").open(newline="", encoding="utf-8") as table:
            told = {row["dish"]: row["food_cost"] for row in csv.DictReader(table)}
        assert told == {dish: row["food_cost"] for dish, row in full_read(till).items()}
    assert statuses == ["200", "304"]


@pytest.mark.usefixtures("curl")
def test_curl_posts_a_price_and_shows_what_is_wrong_with_one(
    service: RunningService, buyer: Client, tmp_path: Path
) -> None:
    posted = json.loads(output(buyer, tmp_path, "post-price.sh", "beef-topside", "fenmoor", "17.10", "1", "kg"))
    assert posted == next(price for price in buyer.read(TOPSIDE)["data"] if price["id"] == posted["id"])
    assert posted["amount"] == "17.1"
    wrong = run(buyer, tmp_path, "post-price.sh", "beef-topside", "fenmoor", "-1", "1", "kg")
    assert wrong.returncode == 22
    assert [fault["pointer"] for fault in json.loads(wrong.stdout)["errors"]] == ["#/amount"]


def test_python_posts_a_price_and_shows_the_dish_move(buyer: Client, tmp_path: Path) -> None:
    before = buyer.read("/v1/dish-costs/grilled-cap")["food_cost"]
    told = output(buyer, tmp_path, "post_price.py", "beef-topside", "fenmoor", "18.30", "1", "kg", "grilled-cap")
    after = buyer.read("/v1/dish-costs/grilled-cap")["food_cost"]
    newest = max(buyer.read(TOPSIDE)["data"], key=lambda price: int(price["id"].partition("-")[0]))
    assert told.splitlines() == [f"price {newest['id']}", f"grilled-cap {before} {after}"]
    assert before != after
    wrong = run(buyer, tmp_path, "post_price.py", "beef-topside", "nobody", "x", "1", "stone", "grilled-cap")
    assert wrong.returncode == 1
    assert {line.split()[0] for line in wrong.stderr.splitlines()[1:]} >= {"#/amount", "#/pack_unit"}


def test_who_only_follows_the_feed_holds_what_a_full_read_gives(
    service: RunningService, buyer: Client, tmp_path: Path
) -> None:
    till, file = service.client("costs:read"), tmp_path / "costs.json"
    output(till, tmp_path, "follow_dish_costs.py", file.name, "--once")
    assert held(file) == full_read(till)
    output(buyer, tmp_path, "post_price.py", "beef-topside", "fenmoor", "19.70", "1", "kg", "grilled-cap")
    assert held(file) != full_read(till)
    told = output(till, tmp_path, "follow_dish_costs.py", file.name, "--once")
    assert held(file) == full_read(till)
    assert f"grilled-cap {held(file)['grilled-cap']['food_cost']} price" in told
    assert output(till, tmp_path, "follow_dish_costs.py", file.name, "--once") == ""
    with in_the_background(till, tmp_path, "follow_dish_costs.py", file.name):
        for amount in ("20.10", "20.90"):
            output(buyer, tmp_path, "post_price.py", "beef-topside", "fenmoor", amount, "1", "kg", "grilled-cap")
            wait_until(lambda: held(file) == full_read(till))
    assert held(file) == full_read(till)


def held(file: Path) -> dict[str, Any]:
    dishes: dict[str, Any] = json.loads(file.read_text("utf-8"))["dishes"]
    return dishes


@contextmanager
def in_the_background(client: Client, folder: Path, *command: str, **more: str
                      ) -> Iterator["subprocess.Popen[str]"]:
    started = subprocess.Popen([sys.executable, str(EXAMPLES / command[0]), *command[1:]], cwd=folder, text=True,
                               env=environment(client) | more, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    try:
        yield started
    finally:
        started.send_signal(signal.SIGTERM)
        started.communicate(timeout=SECONDS)


def wait_until(holds: Callable[[], bool]) -> None:
    until = time.monotonic() + SECONDS
    while not holds():
        assert time.monotonic() < until, "it did not come about in time"
        time.sleep(0.1)


BODY = json.dumps({"type": "ping", "timestamp": "2026-11-25T10:00:00Z", "data": {"dish": "Crème brûlée"}}).encode()


def the_receiver() -> Any:
    """The example as a module, for its function `verified`."""
    spec = importlib.util.spec_from_file_location("receive_webhooks", EXAMPLES / "receive_webhooks.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def ours(secret: str) -> dict[str, str]:
    return dict(signed_fields("msg_1", datetime.now(UTC), BODY, [secret]))


def the_library_s(secret: str) -> dict[str, str]:
    now = datetime.now(UTC)
    return {"webhook-id": "msg_1", "webhook-timestamp": str(int(now.timestamp())),
            "webhook-signature": Webhook(secret).sign("msg_1", now, BODY.decode())}


@pytest.mark.parametrize("sign", [ours, the_library_s])
def test_the_receiver_verifies_what_the_service_and_a_library_sign(sign: Callable[[str], dict[str, str]]) -> None:
    receiver, secret, fields = the_receiver(), (known := new_secret()), sign(known)
    assert receiver.verified(secret, fields, BODY) == json.loads(BODY)
    while_rotating = fields | {"webhook-signature": f"v1,AAAA {fields['webhook-signature']} v2,else"}
    assert receiver.verified(secret, while_rotating, BODY) == json.loads(BODY)
    stamped = int(fields["webhook-timestamp"])
    for late in (-300, 300):
        assert receiver.verified(secret, fields, BODY, stamped + late) == json.loads(BODY)
    refused = [
        (new_secret(), fields, BODY, None), (secret, fields, BODY + b" ", None),
        (secret, fields | {"webhook-id": "msg_2"}, BODY, None), (secret, fields, BODY, stamped + 301),
        (secret, fields, BODY, stamped - 301), (secret, fields | {"webhook-timestamp": str(stamped + 1)}, BODY, None),
        (secret, fields | {"webhook-timestamp": "soon"}, BODY, None),
        (secret, fields | {"webhook-signature": fields["webhook-signature"].replace("v1,", "v2,")}, BODY, None),
        *((secret, {other: value for other, value in fields.items() if other != name}, BODY, None) for name in fields)]
    for wrong in refused:
        with pytest.raises(receiver.NotVerified):
            receiver.verified(*wrong)


def test_the_receiver_answers_at_once_and_prints_each_message_once(tmp_path: Path) -> None:
    secret, nobody = new_secret(), Client("", "", None)  # type: ignore[arg-type]
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    with in_the_background(nobody, tmp_path, "receive_webhooks.py", str(port), SEAMCOST_WEBHOOK_SECRET=secret) as runs:
        wait_until(lambda: listens(port))
        changed = ours(secret) | {"webhook-id": secrets.token_hex(4)}
        statuses = [post(port, fields) for fields in (
            ours(secret), the_library_s(secret), ours(new_secret()), changed)]
        assert runs.stdout is not None
        assert runs.stdout.readline() == 'ping {"dish": "Cr\\u00e8me br\\u00fbl\\u00e9e"}\n'
        runs.send_signal(signal.SIGTERM)
        rest, refusals = runs.communicate(timeout=SECONDS)
    assert statuses == [204, 204, 401, 401]
    assert (rest, refusals.count("refused: ")) == ("", 2)


def listens(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def post(port: int, fields: dict[str, str]) -> int:
    return requests.post(f"http://127.0.0.1:{port}/", data=BODY, headers=fields, timeout=SECONDS).status_code
