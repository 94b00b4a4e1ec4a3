"""A stop without a proxy: whoever is connected is answered, waiters leave at once, the service says first that it
leaves, and what is under way ends whole.

Source: RFC 9112 section 9.6. What cannot be promised without draining: that a client which sends on a kept connection
just as it is closed is answered; it may send again what has no effect, or carries an Idempotency-Key.
"""

import http.client
import json
import signal
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import requests

from service.settings import Settings
from tests.docker.proxy import free_ports
from tests.reliability.serving import Service, running
from tests.stories.running_service import a_key

CLIENTS = 8
LEAVING_SECONDS = "4"
pytestmark = pytest.mark.timeout(900)


@pytest.fixture
def service(sqlite_url: str, tmp_path: Path) -> Iterator[Service]:
    """A service that leaves for some seconds before it closes."""
    started = Service(free_ports(1)[0], sqlite_url, tmp_path, {"SEAMCOST_DRAIN_SECONDS": LEAVING_SECONDS})
    with running(started):
        yield started


def kept(service: Service) -> http.client.HTTPConnection:
    """A connection that stays after an answer."""
    connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=30)
    assert not asked(connection).will_close
    return connection


def asked(connection: http.client.HTTPConnection) -> http.client.HTTPResponse:
    connection.request("GET", "/health/live")
    answer = connection.getresponse()
    assert (answer.status, json.load(answer)) == (200, {"status": "pass"})
    return answer


def is_ready(service: Service) -> bool:
    return requests.get(f"{service.url}/health/ready", timeout=30).status_code == 200


def test_it_leaves_before_it_closes(service: Service, sqlite_url: str) -> None:
    connection = kept(service)
    key, waited = a_key(Settings(database_url=sqlite_url), "admin"), []

    def wait() -> None:
        answer = requests.get(f"{service.url}/v1/dish-costs/changes", params={"wait": "25"}, timeout=60,
                              headers={"Authorization": f"Bearer {key}"})
        waited.append((answer.status_code, time.monotonic()))

    assert is_ready(service)
    waiter = threading.Thread(target=wait)
    waiter.start()
    time.sleep(1)
    told = time.monotonic()
    service.tell(signal.SIGTERM)
    while is_ready(service):
        pass  # once it is closed nobody can be asked any more, and that fails here
    answer = asked(connection)
    assert answer.will_close
    assert requests.get(f"{service.url}/health/live", timeout=30).headers["Connection"] == "close"
    assert service.ended() == 0
    waiter.join()
    assert time.monotonic() - told >= int(LEAVING_SECONDS)
    assert [(status, when - told < 24) for status, when in waited] == [(200, True)]
    assert "Traceback" not in service.log()


def test_a_second_signal_closes_at_once(sqlite_url: str, tmp_path: Path) -> None:
    service = Service(free_ports(1)[0], sqlite_url, tmp_path, {"SEAMCOST_DRAIN_SECONDS": "600"})
    with running(service):
        _told_twice(service)


def _told_twice(service: Service) -> None:
    service.tell(signal.SIGTERM)
    while is_ready(service):
        pass
    service.tell(signal.SIGTERM)
    assert service.ended(100) == 0


def connected(service: Service, over: threading.Event) -> list[str]:
    """What becomes of requests on connections of their own that were made, until nobody listens any more."""
    became, lock = [], threading.Lock()

    def client() -> None:
        while not over.is_set():
            try:
                connection = socket.create_connection(("127.0.0.1", service.port), timeout=30)
            except ConnectionRefusedError:
                over.wait(0.01)
                continue
            with connection:
                try:
                    connection.sendall(b"GET /health/live HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
                    came = connection.recv(12).decode() or "closed without an answer"
                except OSError as error:
                    came = type(error).__name__
            with lock:
                became.append(came)

    clients = [threading.Thread(target=client) for _ in range(CLIENTS)]
    for each in clients:
        each.start()
    for each in clients:
        each.join()
    return became


def stopped_under(service: Service) -> list[str]:
    """Stop it while clients connect as fast as they can."""
    over = threading.Event()

    def stop() -> None:
        time.sleep(1)
        service.tell(signal.SIGTERM)
        service.ended()
        over.set()

    stopping = threading.Thread(target=stop)
    stopping.start()
    became = connected(service, over)
    stopping.join()
    return became


def test_whoever_is_connected_is_answered_even_without_draining(sqlite_url: str, tmp_path: Path) -> None:
    service = Service(free_ports(1)[0], sqlite_url, tmp_path)
    with running(service):
        became = stopped_under(service)
    assert (set(became), len(became) > 50) == ({"HTTP/1.1 200"}, True)


def test_the_server_s_own_worker_leaves_the_queue_behind(sqlite_url: str, tmp_path: Path) -> None:
    """What the test above would show if nothing were done: that it can fail."""
    service = Service(free_ports(1)[0], sqlite_url, tmp_path, sabotage="leaves-the-queue")
    with running(service):
        became = stopped_under(service)
    assert set(became) > {"HTTP/1.1 200"}
