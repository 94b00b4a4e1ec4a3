"""Bodies over a real server: limits, cut connections and what the next request finds. Source: RFC 9112 section 7.1."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator

import pytest
import requests

from tests.rest.trays import a_tray, as_

HEAD = "PUT /v1/trays/a HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer chef\r\nContent-Type: application/json\r\n"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="module")
def port() -> Iterator[int]:
    """A gunicorn that serves the trays, as the service is served."""
    chosen = free_port()
    command = [sys.executable, "-m", "gunicorn", "tests.rest.trays:the_app()", "-b", f"127.0.0.1:{chosen}",
               "-k", "gthread", "--threads", "4", "--no-control-socket", "--log-level", "warning"]
    with subprocess.Popen(command, env=os.environ | {"PYTHONPATH": "."}) as server:
        try:
            wait_for(chosen)
            yield chosen
        finally:
            server.send_signal(signal.SIGTERM)
            server.wait(20)


def wait_for(port: int) -> None:
    session = requests.Session()
    session.mount("http://", requests.adapters.HTTPAdapter(max_retries=requests.adapters.Retry(
        connect=60, backoff_factor=0.1, backoff_max=0.5)))
    assert session.get(f"http://127.0.0.1:{port}/health/live", timeout=30).json() == {"status": "pass"}


def answer_to(port: int, *pieces: bytes, half_close: bool = False) -> tuple[int, dict[str, object]]:
    """The status and the problem with which the server answers raw bytes."""
    with socket.create_connection(("127.0.0.1", port), timeout=20) as connection:
        for piece in pieces:
            connection.sendall(piece)
        if half_close:
            connection.shutdown(socket.SHUT_WR)
        with connection.makefile("rb") as stream:
            status = int(stream.readline().split()[1])
            while stream.readline().strip():
                pass
            return status, json.loads(stream.readline())


def test_a_body_of_50_mb_is_413_and_the_client_gets_to_read_it(port: int) -> None:
    answer = requests.put(f"http://127.0.0.1:{port}/v1/trays/a", data=b" " * 50_000_000, timeout=60,
                          headers=as_("chef") | {"Content-Type": "application/json"})
    assert (answer.status_code, answer.json()["type"]) == (413, "/docs/problems/body-too-large")


def test_a_chunked_body_above_the_limit_is_413_and_not_cut(port: int) -> None:
    whole = json.dumps(a_tray()).encode()
    pieces = iter([whole, *([b" " * 100_000] * 30)])
    answer = requests.put(f"http://127.0.0.1:{port}/v1/trays/a", data=pieces, timeout=60,
                          headers=as_("chef") | {"Content-Type": "application/json"})
    assert answer.status_code == 413


def test_a_chunked_body_within_the_limit_is_read(port: int) -> None:
    body = json.dumps(a_tray()).encode()
    answer = requests.put(f"http://127.0.0.1:{port}/v1/trays/a", data=iter([body[:9], body[9:]]), timeout=60,
                          headers=as_("chef") | {"Content-Type": "application/json"})
    assert answer.status_code == 200


def test_a_connection_cut_half_way_is_400(port: int) -> None:
    status, problem = answer_to(port, f"{HEAD}Content-Length: 1000\r\n\r\n".encode(), b'{"name": "Tray"}',
                                half_close=True)
    assert (status, problem["type"]) == (400, "/docs/problems/body-cut-short")


def chunk(content: bytes) -> bytes:
    return f"{len(content):x}\r\n".encode() + content + b"\r\n"


@pytest.mark.parametrize("pieces", [
    [b'5\r\n{"na'], [b'5\r\n{"nam\r\n'], [chunk(json.dumps(a_tray()).encode())],
    [chunk(json.dumps(a_tray()).encode()), b"0\r\n"]], ids=["in a chunk", "after one", "whole JSON", "before the end"])
def test_a_chunked_body_cut_half_way_is_400_even_where_it_is_whole_json(port: int, pieces: list[bytes]) -> None:
    status, problem = answer_to(port, f"{HEAD}Transfer-Encoding: chunked\r\n\r\n".encode(), *pieces, half_close=True)
    assert (status, problem["type"]) == (400, "/docs/problems/body-cut-short")


def test_a_refused_key_does_not_leave_the_body_for_the_next_request(port: int) -> None:
    smuggled = b"GET / HTTP/1.1\r\n\r\n" * 1000
    with requests.Session() as session:
        for _ in range(3):
            answer = session.put(f"http://127.0.0.1:{port}/v1/trays/a", data=smuggled, timeout=20)
            assert answer.status_code == 401
        assert session.get(f"http://127.0.0.1:{port}/health/live", timeout=20).status_code == 200


def test_nesting_of_10_000_levels_is_400(port: int) -> None:
    answer = requests.put(f"http://127.0.0.1:{port}/v1/trays/a", data=b"[" * 10_000 + b"]" * 10_000, timeout=20,
                          headers=as_("chef") | {"Content-Type": "application/json"})
    assert answer.status_code == 400


@pytest.mark.parametrize(("raw", "status"), [
    (b"GET /" + b"a" * 5_000 + b" HTTP/1.1\r\nHost: x\r\n\r\n", 414),
    (b"GET / HTTP/1.1\r\nHost: x\r\nX-Long: " + b"a" * 9_000 + b"\r\n\r\n", 431),
    (b"GET / HTTP/1.1\r\nHost: x\r\n" + b"X-Many: 1\r\n" * 200 + b"\r\n", 431),
    (b"hello\r\n\r\n", 400), (b"TRACE /v1/trays/a HTTP/1.1\r\nHost: x\r\nX-Secret: seen\r\n\r\n", 405)])
def test_what_the_server_itself_refuses_is_short_and_names_no_version(port: int, raw: bytes, status: int) -> None:
    with socket.create_connection(("127.0.0.1", port), timeout=20) as connection:
        connection.sendall(raw)
        connection.shutdown(socket.SHUT_WR)
        with connection.makefile("rb") as stream:
            answer = stream.read()
    assert int(answer.split()[1]) == status
    assert len(answer) < 2_000
    assert not re.search(rb"gunicorn/|werkzeug|python/|flask|Traceback|seen|a{100}", answer, re.IGNORECASE)
