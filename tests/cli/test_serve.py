"""`seamcost serve` for real: a gunicorn of its own, requests over a socket, signals."""

import re
import signal
import socket
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path

import pytest
import requests

from service.cli.graceful_stop import LeavingWorker
from service.cli.gunicorn_server import MEMORY_FOLDER, server_settings, workers_of
from service.settings import Settings, SettingWrong
from tests.cli.conftest import Run, Start
from tests.cli.test_costs import table_of

SECONDS_TO_STOP = 10


@dataclass(frozen=True, slots=True)
class Served:
    """A server as it introduced itself."""

    process: "subprocess.Popen[str]"
    told: str
    url: str
    key: str

    def get(self, path: str, **headers: str) -> requests.Response:
        return requests.get(self.url + path, headers={"Authorization": f"Bearer {self.key}", **headers}, timeout=30)


def introduced(process: "subprocess.Popen[str]", last: str) -> Served:
    """Read what the server prints, up to the line that begins with `last`."""
    assert process.stdout is not None
    lines: list[str] = []
    while not lines or not lines[-1].startswith(last):
        line = process.stdout.readline()
        assert line, f"the server ended: {process.communicate()[1]}"
        lines.append(line)
    told = "".join(lines)
    url, key = re.search(r"Serving at (http://\S+)", told), re.search(r"Key.*: (seam_\S+)", told)
    return Served(process, told, url[1] if url else "", key[1] if key else "")


def stopped(process: "subprocess.Popen[str]", number: int) -> tuple[int, float, str]:
    """Exit status, seconds until it ended, and what it said on standard error."""
    began = time.monotonic()
    process.send_signal(number)
    _, said = process.communicate(timeout=60)
    return process.returncode, time.monotonic() - began, said


def hold_to_ready(url: str) -> None:
    """It is ready once every worker has its first snapshot, in a moment."""
    until = time.monotonic() + 60
    while (answer := requests.get(f"{url}/health/ready", timeout=30)).status_code != 200:
        assert answer.json() == {"status": "fail", "starting": True}
        assert time.monotonic() < until


def test_the_demo_is_served_from_an_empty_folder_and_stops_cleanly(start: Start, tmp_path: Path) -> None:
    served = introduced(start("serve", "--demo", "--port", "0"), "Try:")

    listed = served.get("/v1/dish-costs").json()["data"]
    shown = table_of("\n".join(line for line in served.told.splitlines() if not line.startswith(("Key", "Try"))))
    assert [(row["dish"], row["food cost"]) for row in shown] == [(row["dish"], row["food_cost"]) for row in listed]
    assert len(listed) == 12
    assert requests.get(f"{served.url}/docs", timeout=30).status_code == 200
    hold_to_ready(served.url)
    assert requests.get(f"{served.url}/v1/dish-costs", timeout=30).status_code == 401

    status, seconds, said = stopped(served.process, signal.SIGTERM)
    assert (status, seconds < SECONDS_TO_STOP) == (0, True)
    assert "Traceback" not in said
    assert [path.name for path in tmp_path.iterdir() if not path.name.startswith("seamcost.db")] == []


def test_each_start_over_a_loaded_demo_has_a_fresh_key_and_keeps_changes(start: Start, demo_file: Path) -> None:
    assert demo_file.exists()
    first = introduced(start("serve", "--demo", "--port", "0"), "Try:")
    posted = requests.post(
        f"{first.url}/v1/ingredients/beef-topside/prices", timeout=30,
        json={"supplier": "fenmoor", "amount": "99.00", "pack_quantity": "1", "pack_unit": "kg",
              "effective_from": first.get("/v1/dish-costs").json()["as_of"]},
        headers={"Authorization": f"Bearer {first.key}"})
    assert posted.status_code == 201
    dear = first.get("/v1/dish-costs/grilled-cap").json()["food_cost"]
    assert stopped(first.process, signal.SIGINT)[0] == 0

    second = introduced(start("serve", "--demo", "--port", "0"), "Try:")
    assert second.key != first.key
    assert second.get("/v1/dish-costs/grilled-cap").json()["food_cost"] == dear
    assert stopped(second.process, signal.SIGTERM)[0] == 0


def test_either_database_is_served_and_a_key_made_meanwhile_opens_it(start: Start, run: Run, database_url: str) -> None:
    served = introduced(start("serve", "--port", "0", "--database", database_url), "No key")
    assert "seamcost keys create" in served.told
    hold_to_ready(served.url)

    key = run("keys", "create", "head chef", "--scope", "read", "--database", database_url).stdout.strip()
    opened = requests.get(f"{served.url}/v1/dish-costs", headers={"Authorization": f"Bearer {key}"}, timeout=30)
    assert (opened.status_code, opened.json()["data"]) == (200, [])
    assert stopped(served.process, signal.SIGTERM)[0] == 0


def test_a_port_in_use_is_told_before_anything_is_done(run: Run, tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = run("serve", "--demo", "--port", str(port))

    assert done.exit_code == 1
    assert f"Port {port}" in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("url", "asked", "safe", "workers"), [
    ("sqlite:///x.db", None, True, 2), ("sqlite:///x.db", None, False, 1), ("sqlite:///x.db", 1, False, 1),
    ("sqlite:///x.db", 8, True, 8), ("postgresql://localhost/x", 3, True, 3)])
def test_there_are_as_many_workers_as_the_database_bears(url: str, asked: int | None, safe: bool, workers: int) -> None:
    assert workers_of(Settings(database_url=url, workers=asked), safe) == workers


def test_several_workers_on_an_unsafe_sqlite_are_refused() -> None:
    with pytest.raises(SettingWrong, match="WAL-reset bug"):
        workers_of(Settings(workers=2), several_are_safe=False)


def test_the_server_makes_no_socket_at_home_and_forks_before_it_connects() -> None:
    told = server_settings(Settings(), 2, lambda address: None)
    assert (told["control_socket_disable"], told["preload_app"], told["worker_class"]) == (True, False, LeavingWorker)
    assert told["worker_tmp_dir"] == (str(MEMORY_FOLDER) if MEMORY_FOLDER.is_dir() else None)
