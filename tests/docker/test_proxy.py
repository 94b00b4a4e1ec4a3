"""The shipped proxy in front of a service that tells what reached it: slow clients, limits, fields, and what it hides.

Source: nginx's documentation of each directive; RFC 9112 sections 6 and 9; RFC 9457 for what it says itself.
"""

import contextlib
import itertools
import json
import re
import socket
import ssl
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
import requests
import trustme

from service.rest.price_files import FILE_LIMIT
from service.rest.schemas.dish_cost_changes import LONGEST_WAIT
from tests.docker.proxy import SHIPPED, Proxy, free_ports, needs_nginx, running_proxy

pytestmark = needs_nginx
TOKEN = "a-token-that-nobody-may-read"


@dataclass
class Heard:
    """A server that writes down what reaches it, and answers as the path says."""

    port: int = 0
    requests: list[tuple[str, dict[str, str], int]] = field(default_factory=list)


@pytest.fixture(scope="module")
def heard() -> Iterator[Heard]:
    """Stands for the service."""
    noted = Heard()

    class Listens(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            body = self.rfile.read(int(self.headers.get("Content-Length", "0")))
            noted.requests.append((self.path, dict(self.headers.items()), len(body)))
            if self.path == "/slow":
                time.sleep(3)
            told = json.dumps(dict(self.headers.items())).encode()
            self.send_response(200)
            self.send_header("Content-Length", str(len(told)))
            self.send_header("X-Request-ID", self.headers.get("X-Request-ID", "made"))
            self.end_headers()
            self.wfile.write(told)

        do_POST = do_GET  # noqa: N815  (the library's name)

        def log_message(self, *_words: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Listens)
    noted.port = server.server_address[1]
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield noted
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.fixture(scope="module")
def proxy(heard: Heard, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Proxy]:
    """The proxy, before one service that is not there and one that is."""
    with running_proxy(tmp_path_factory.mktemp("proxy"), [free_ports(1)[0], heard.port]) as running:
        yield running


def url(proxy: Proxy, path: str) -> str:
    return f"http://127.0.0.1:{proxy.port}{path}"


def said(proxy: Proxy, raw: bytes, seconds: float = 20) -> bytes:
    """What comes back for raw bytes, until the connection ends."""
    with socket.create_connection(("127.0.0.1", proxy.port), timeout=seconds) as connection:
        connection.sendall(raw)
        return b"".join(iter(lambda: connection.recv(65_536), b""))


def test_fields_reach_the_service_as_they_came(proxy: Proxy) -> None:
    sent = {"Host": "kitchen.example:8443", "X-Request-ID": "till-7", "X-Forwarded-Proto": "https",
            "Origin": "https://kitchen.example:8443", "Sec-Fetch-Site": "same-origin", "If-None-Match": '"214"',
            "Idempotency-Key": "once", "Authorization": "Bearer x"}
    answer = requests.get(url(proxy, "/v1/dish-costs"), headers=sent, timeout=20)
    assert {name: answer.json().get(name) for name in sent} == sent
    assert answer.headers["X-Request-ID"] == "till-7"
    assert answer.json()["X-Forwarded-For"] == "127.0.0.1"
    plain = requests.get(url(proxy, "/v1/dish-costs"), headers={"X-Forwarded-Proto": "gopher"}, timeout=20).json()
    assert plain["X-Forwarded-Proto"] == "http"


def test_a_request_reaches_the_service_once_it_is_whole_and_a_slow_one_never(proxy: Proxy, heard: Heard) -> None:
    with socket.create_connection(("127.0.0.1", proxy.port), timeout=20) as connection:
        connection.sendall(b"POST /half HTTP/1.1\r\nHost: x\r\nContent-Length: 10\r\n\r\n12345")
        time.sleep(0.5)
        assert not any(path == "/half" for path, _, _ in heard.requests)
        connection.sendall(b"67890")
        assert connection.recv(12).endswith(b"200")
    assert [length for path, _, length in heard.requests if path == "/half"] == [10]


def test_a_head_that_does_not_get_on_is_given_up_while_others_are_served(proxy: Proxy, heard: Heard) -> None:
    """A hundred of them: more than the service has threads."""
    slow = [socket.create_connection(("127.0.0.1", proxy.port), timeout=20) for _ in range(100)]
    try:
        for connection in slow:
            connection.sendall(b"GET /never HTTP/1.1\r\nHost: x\r\nX-Slow: ")
        begun = time.monotonic()
        assert requests.get(url(proxy, "/meanwhile"), timeout=20).status_code == 200
        with contextlib.suppress(ConnectionResetError):
            assert slow[0].recv(1) == b""
        assert time.monotonic() - begun > 5
    finally:
        for connection in slow:
            connection.close()
    assert not any(path == "/never" for path, _, _ in heard.requests)


@pytest.mark.parametrize("path", ["/metrics", "/metrics/x", "//metrics", "/%6detrics", "/x/../metrics", "/health/ready",
                                  "/health/./ready", "/health%2fready", "/health/ready?x=1"])
def test_what_is_for_those_who_run_it_is_hidden(proxy: Proxy, heard: Heard, path: str) -> None:
    answer = said(proxy, f"GET {path} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n".encode())
    assert answer.split()[1] == b"404"
    assert not any(seen == path for seen, _, _ in heard.requests)


def test_a_body_as_large_as_the_service_takes_passes_and_a_larger_one_is_a_problem(proxy: Proxy, heard: Heard) -> None:
    assert requests.post(url(proxy, "/file"), data=bytes(FILE_LIMIT), timeout=60).status_code == 200
    answer = requests.post(url(proxy, "/larger"), data=bytes(FILE_LIMIT + 2_000_000), timeout=60)
    assert (answer.status_code, answer.headers["Content-Type"]) == (413, "application/problem+json")
    assert (answer.json()["type"], answer.json()["limit_bytes"]) == ("/docs/problems/body-too-large", FILE_LIMIT)
    assert [length for path, _, length in heard.requests if path in ("/file", "/larger")] == [FILE_LIMIT]


@pytest.mark.parametrize("raw", [
    b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 3\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
    b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 3\r\nContent-Length: 4\r\n\r\nabcd",
    b"GET / HTTP/1.1\r\nHost: x\r\nHost: y\r\n\r\n", b"GET / HTTP/1.1\r\n\r\n"])
def test_what_contradicts_itself_is_refused(proxy: Proxy, raw: bytes) -> None:
    assert said(proxy, raw).split()[1] == b"400"


def test_a_field_that_could_pass_for_another_is_left_out(proxy: Proxy) -> None:
    raw = b"GET /x HTTP/1.1\r\nHost: x\r\nX_Forwarded_Proto: https\r\nConnection: close\r\n\r\n"
    answer = said(proxy, raw)
    assert answer.split()[1] == b"200"
    assert b"X_Forwarded_Proto" not in answer


def test_neither_a_feed_link_s_token_nor_a_query_is_logged(proxy: Proxy, heard: Heard) -> None:
    requests.get(url(proxy, f"/feeds/{TOKEN}/dish-costs.csv?x={TOKEN}"), timeout=20)
    said(proxy, f"GET /feeds/{TOKEN}/%zz HTTP/1.1\r\nHost: x\r\n\r\n".encode())
    requests.get(url(proxy, f"/sheets/Feeds/{TOKEN}/x"), timeout=20)
    requests.get(url(proxy, f"/v1/dishes/seam_0ff1ce00_{TOKEN}"), timeout=20)
    requests.get(url(proxy, f"/v1/dishes?search={TOKEN}"), timeout=20)
    until = time.monotonic() + 10
    while "/v1/dishes" not in proxy.log.read_text() and time.monotonic() < until:
        time.sleep(0.1)
    logged = proxy.log.read_text()
    assert TOKEN not in logged
    lines = [json.loads(line) for line in logged.splitlines() if line.startswith("{")]
    assert {"/feeds/...", "/v1/dishes"} <= {line["path"] for line in lines}
    assert any(path.startswith("/feeds/") for path, _, _ in heard.requests)


def hold_to_a_problem_to_come_back_after(answer: requests.Response) -> None:
    assert (answer.status_code, answer.headers["Content-Type"]) == (503, "application/problem+json")
    assert (answer.json()["type"], answer.headers["Retry-After"]) == ("/docs/problems/unavailable", "2")
    assert (answer.headers["Cache-Control"], answer.headers["X-Content-Type-Options"]) == ("no-store", "nosniff")


def test_nobody_who_answers_is_a_problem_that_says_when_to_come_back(tmp_path: Path) -> None:
    with running_proxy(tmp_path, free_ports(1)) as alone:
        answer = requests.post(url(alone, "/v1/suppliers"), data=b"{}", timeout=30)
    hold_to_a_problem_to_come_back_after(answer)
    assert "Strict-Transport-Security" not in answer.headers


def test_a_body_for_which_there_is_no_room_is_such_a_problem_and_no_path_is_logged(tmp_path: Path) -> None:
    with running_proxy(tmp_path, free_ports(1)) as full:
        (tmp_path / "client_body").rmdir()
        (tmp_path / "client_body").touch()
        answer = requests.post(url(full, f"/feeds/{TOKEN}/x"), data=bytes(200_000), timeout=30)
    hold_to_a_problem_to_come_back_after(answer)
    assert TOKEN not in full.log.read_text()


def test_with_tls_the_service_is_told_so_and_the_browser_to_stay_with_it(heard: Heard, tmp_path: Path) -> None:
    authority = trustme.CA()
    issued = authority.issue_cert("localhost")
    chain, key, trusted = tmp_path / "chain.pem", tmp_path / "key.pem", tmp_path / "trusted.pem"
    chain.write_bytes(b"".join(blob.bytes() for blob in issued.cert_chain_pems))
    issued.private_key_pem.write_to_path(key)
    authority.cert_pem.write_to_path(trusted)
    with running_proxy(tmp_path / "proxy", [heard.port], (chain, key)) as running:
        answer = requests.get(f"https://localhost:{running.port}/x", verify=str(trusted), timeout=20,
                              headers={"X-Forwarded-Proto": "http"})
        too_large = requests.post(f"https://localhost:{running.port}/x", verify=str(trusted), timeout=20,
                                  headers={"Content-Length": "30000000"})
        with running_proxy(tmp_path / "alone", free_ports(1), (chain, key)) as alone:
            nobody = requests.get(f"https://localhost:{alone.port}/x", verify=str(trusted), timeout=20)
        old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        old.load_verify_locations(trusted)
        old.maximum_version = ssl.TLSVersion.TLSv1_2
        old.set_ciphers("AES128-SHA:@SECLEVEL=0")
        with socket.create_connection(("localhost", running.port), timeout=20) as plain, pytest.raises(ssl.SSLError):
            old.wrap_socket(plain, server_hostname="localhost")
    assert answer.json()["X-Forwarded-Proto"] == "https"
    for each in (answer, too_large, nobody):
        assert each.headers["Strict-Transport-Security"] == "max-age=31536000; includeSubDomains"
    assert (too_large.status_code, nobody.status_code) == (413, 503)
    assert "nginx/" not in answer.headers["Server"]


def test_a_wait_is_not_cut_and_a_stop_has_time_to_answer() -> None:
    from service.cli.gunicorn_server import server_settings
    from service.settings import Settings

    told = "\n".join((SHIPPED / name).read_text() for name in ("nginx.conf", "passing.conf"))
    seconds = {name: int(number) for name, number in re.findall(r"^\s*(\w+_timeout) (\d+)s;", told, re.MULTILINE)}
    assert seconds["proxy_read_timeout"] > LONGEST_WAIT + server_settings(Settings(), 1, print)["graceful_timeout"]
    assert seconds["worker_shutdown_timeout"] >= LONGEST_WAIT
    assert set(itertools.chain(seconds)) >= {"client_header_timeout", "client_body_timeout", "send_timeout"}
