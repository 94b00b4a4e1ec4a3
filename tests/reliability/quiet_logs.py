"""Quiet logs (T20): no secret, key, feed path or supplier price in any log, metric, temporary file or error answer.

A server is asked through every operation of its document, by its examples and by what breaks them: without a key, with
a wrong one, with cut JSON, with secrets in queries and paths, while snapshots and senders raise with secrets in their
texts, over raw sockets, with files that break their reader, with receivers that are not there, and with the database
gone. Then everything that was written is searched for every canary in every form (canaries.py). Each line of the log
must be one JSON object, and each request that is logged must be there once: a log that is off is quiet too.

Source: OWASP ASVS 5.0.0 16.2.5, 16.4.1, 16.5.1; CWE-532, CWE-117, CWE-209.
"""

import json
import os
import random
import secrets
import socket
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import requests

from service import operating, wiring
from service.cli.demo_loading import load_demo
from service.rest.openapi_layer.document import operations
from service.rest.openapi_layer.examples import load_examples, request_of
from service.settings import Settings
from service.use_cases.keys import create_key
from service.use_cases.ports import Asker
from tests.reliability.canaries import found_in
from tests.reliability.faulty_service import SABOTAGES
from tests.reliability.programme import Programme, Run, Verdict
from tests.watching.serving import TOP, Served, served, until

PRICES = {"price paid": "7319.417", "menu price": "9173.53"}
MODULE = "tests.reliability.faulty_service"
QUIET = (304,)


class Quest:
    """One run: what must not be found, what was answered, and what was wrong."""

    def __init__(self, run: Run, service: Served, canaries: dict[str, str], broken: Path) -> None:
        self.run, self.service, self.canaries, self.broken = run, service, canaries, broken
        self.answers: Counter[int] = Counter()
        self.faults: set[str] = set()
        self.session = requests.Session()
        self.key = canaries["access key"]

    def ask(self, method: str, path: str, key: str | None = None, **more: Any) -> requests.Response:
        """Ask; an error answer that tells a secret, or a price on 5xx, is a fault."""
        headers = {"Authorization": f"Bearer {self.key if key is None else key}"} if key != "" else {}
        headers |= more.pop("headers", {})
        answer = self.session.request(method, self.service.url + path, headers=headers, timeout=60,
                                      allow_redirects=False, **more)
        if not path.startswith("/health/"):
            self.answers[answer.status_code] += 1
        if answer.status_code >= 400:
            told = {name: text for name, text in self.canaries.items()
                    if name not in PRICES or answer.status_code >= 500}
            self.faults |= {f"an answer of {answer.status_code}: {found}" for found in found_in(answer.content, told)}
        return answer

    @contextmanager
    def breaking(self) -> Iterator[None]:
        """While snapshots and senders raise with all canaries in their texts."""
        self.broken.write_text(" ".join(self.canaries.values()))
        yield
        self.broken.unlink()


def run(run: Run) -> Verdict:
    """Ask, break, search."""
    settings = Settings(database_url=run.database_url)
    with operating.opened_ledger(settings) as ledger:
        if ledger.head().revision == 0:
            load_demo(ledger, wiring.app_on(ledger, settings), operating.now(settings), lambda _done: None)
        key = str(create_key(ledger, "canary", ["admin"], None, Asker("cli", "x", "x"), 1_000_000).document["key"])
        signing = ledger.signing_secret().hex()
    canaries = {"access key": key, "secret of the key": key[14:], "signing secret": signing, **PRICES,
                "database password": f"pw-{secrets.token_hex(8)}", "idempotency key": f"idem-{secrets.token_hex(8)}",
                "signing secret of a webhook": "whsec_" + "QxZ7" * 10 + secrets.token_hex(8),
                "path of a receiver": f"hook-{secrets.token_hex(8)}"}
    url = run.database_url.replace("://seamcost@", f"://seamcost:{canaries['database password']}@")
    temporary = run.folder / "temporary"
    temporary.mkdir()
    environment = {"QUIET_LOGS_BREAK": str(run.folder / "break"), "SABOTAGE": run.sabotage, "TMPDIR": str(temporary),
                   "SEAMCOST_WEBHOOK_NETWORKS": "127.0.0.0/8", "SEAMCOST_LOG_FORMAT": "json"}
    with served(url, run.folder, module=MODULE, **environment) as service:
        quest = Quest(run, service, canaries, run.folder / "break")
        _prepare(quest)
        cases = _walk(quest)
        _with_faults(quest)
        _over_raw_sockets(quest)
        _with_broken_files(quest)
        _with_receivers_that_fail(quest, url, environment)
        written = _with_the_database_gone(quest)
        _search(quest, temporary, written)
    return Verdict(cases, tuple(sorted(quest.faults)), {
        "answers": dict(sorted(quest.answers.items())), "canaries": len(canaries),
        "lines": len(service.log.read_bytes().splitlines())})


def _prepare(quest: Quest) -> None:
    """A price, a link, a webhook and a session of the run's own; what they made is dear too."""
    today = quest.ask("GET", "/v1/dish-costs?limit=1").json()["as_of"]
    paid = quest.ask("POST", "/v1/ingredients/beef-topside/prices", json={
        "supplier": "fenmoor", "amount": PRICES["price paid"], "pack_quantity": "1", "pack_unit": "kg",
        "effective_from": today}, headers={"Idempotency-Key": f'"{quest.canaries["idempotency key"]}"'})
    link = quest.ask("POST", "/v1/feeds", json={"name": "Sheet", "lists": ["dish-costs"]})
    hook = quest.ask("POST", "/v1/webhooks", json={
        "url": f"http://127.0.0.1:9/{quest.canaries['path of a receiver']}", "events": ["price.changed"],
        "secret": quest.canaries["signing secret of a webhook"], "figures": True})
    inside = quest.ask("POST", "/session", "", json={"key": quest.key})
    refused = [answer.text for answer in (paid, link, hook, inside) if answer.status_code not in (200, 201)]
    assert not refused, refused
    quest.canaries["token of a feed link"] = link.json()["token"]
    quest.canaries["session"] = next(iter(inside.cookies.values()))
    quest.webhook = hook.json()["id"]  # type: ignore[attr-defined]
    quest.session.cookies.clear()


def _walk(quest: Quest) -> int:
    """Every operation by its examples and by what breaks them, in an order of the run's own, as many as it has."""
    document = quest.ask("GET", "/openapi.json").json()
    examples = load_examples(TOP / "openapi" / "examples")
    asked = [(method, request_of(path, method, example)) for path, method, operation in operations(document)
             for example in examples[operation["operationId"]]]
    ways = [(way, request) for way in WAYS for _, request in asked]
    random.Random(quest.run.seed).shuffle(ways)
    done = 0
    for way, request in ways[:quest.run.cases]:
        if not quest.run.in_time:
            break
        _asked_so(quest, way, dict(request))
        done += 1
    return done


WAYS = ("as it is", "no key", "wrong key", "cut JSON", "in the query", "in the path", "broken", "by session")


def _asked_so(quest: Quest, way: str, request: dict[str, Any]) -> None:
    method, path = request["method"], request["path"].replace(
        "made-up-for-the-examples-of-this-document-0", quest.canaries["token of a feed link"])
    sent: dict[str, Any] = {"headers": {name: text for name, text in request["headers"].items()
                                        if name != "Authorization"}}
    if "json" in request:
        sent["json"] = request["json"]
    if "data" in request:
        sent |= {"data": request["data"], "headers": sent["headers"] | {"Content-Type": request["content_type"]}}
    paid, key = PRICES["price paid"], quest.key
    if way in ("as it is", "no key", "wrong key"):
        quest.ask(method, path, {"no key": "", "wrong key": f"seam_00000000_{key[14:]}"}.get(way), **sent)
    elif way == "cut JSON":
        cut = json.dumps({"amount": paid, "key": key, "secret": quest.canaries["signing secret of a webhook"]})[:-1]
        quest.ask(method, path, data=cut.encode(), headers={"Content-Type": "application/json"})
    elif way == "in the query":
        quest.ask(method, f"{path}{'&' if '?' in path else '?'}amount={paid}&as_of={paid}&key={key}", **sent)
    elif way == "in the path":
        quest.ask(method, f"{path.partition('?')[0]}/{paid}%0d%0a%7b%22forged%22:1%7d", **sent)
    elif way == "by session":
        quest.ask(method, path, "", cookies={"seamcost-session": quest.canaries["session"]}, **sent)
    else:
        with quest.breaking():
            quest.ask(method, path, **sent)


def _with_faults(quest: Quest) -> None:
    """Reads, feeds and pages while snapshots raise: each must be a 500, or the fault was not there."""
    feed = f"/feeds/{quest.canaries['token of a feed link']}/dish-costs.csv"
    with quest.breaking():
        for path, key in (("/v1/dish-costs", None), ("/v1/cut-costs", None), ("/v1/recipe-costs", None), (feed, ""),
                          ("/", "")):
            answer = quest.ask("GET", path, key, cookies={"seamcost-session": quest.canaries["session"]})
            if answer.status_code != 500:
                quest.faults.add(f"no fault at {path.partition('/feeds')[0] or 'a feed'}: {answer.status_code}")


def _over_raw_sockets(quest: Quest) -> None:
    """What the server refuses before the service sees it."""
    key, token = quest.key, quest.canaries["token of a feed link"]
    head = "GET /v1/dish-costs HTTP/1.1\r\nHost: x\r\n"
    for raw in (f"GET /feeds/{token}/é HTTP/1.1\r\n\r\n", f"GET /feeds/{token} HTTP/9.9\r\n\r\n",
                f"{head}Authorization Bearer {key}\r\n\r\n", f"{head}Authorization: Bearer {key}\x01\r\n\r\n",
                f"{head}X_{key}: 1\r\n\r\n", f"{key} / HTTP/1.1\r\n\r\n", f"GET / {key}\r\n\r\n",
                f"{head}X-Request-ID: a\r\n {{\"forged\": 1}}\r\nAuthorization: Bearer {key}\r\n\r\n",
                f"POST /v1/feeds HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {key}\r\n"
                f"Transfer-Encoding: chunked\r\n\r\n{PRICES['price paid']}\r\n"):
        address = urlsplit(quest.service.url)
        with socket.create_connection((address.hostname, address.port), timeout=20) as connection, suppress(OSError):
            connection.sendall(raw.encode())
            connection.shutdown(socket.SHUT_WR)
            while connection.recv(65_536):
                pass
    forged = quest.ask("GET", "/v1/dish-costs?limit=1", headers={"X-Request-ID": f"{key}"})
    assert forged.status_code == 200


def _with_broken_files(quest: Quest) -> None:
    """What breaks its reader in the cage."""
    inside = f"{quest.key} {PRICES['price paid']}".encode()
    for content, kind in ((b"PK\x03\x04" + inside * 40, "application/octet-stream"),
                          (b"<?xml version='1.0'?><!DOCTYPE x [<!ENTITY a '" + inside + b"'>]><x>&a;</x>",
                           "application/xml"), (b"Item code,Price\r\n\"" + inside, "text/csv")):
        answer = quest.ask("POST", "/v1/price-proposals?supplier=fenmoor", data=content, headers={"Content-Type": kind})
        assert answer.status_code >= 400


def _with_receivers_that_fail(quest: Quest, url: str, environment: Mapping[str, str]) -> None:
    """A receiver that is not there, and a sender that breaks with everything in its text."""
    started = None
    if not url.startswith("sqlite"):
        log = (quest.run.folder / "log").open("ab")
        started = subprocess.Popen(
            [sys.executable, "-m", MODULE, "deliver"], cwd=quest.run.folder, stdout=log, stderr=log,
            env={**os.environ, **environment, "PYTHONPATH": str(TOP), "SEAMCOST_DATABASE_URL": url})
        log.close()
    quest.ask("POST", f"/v1/webhooks/{quest.webhook}/ping")  # type: ignore[attr-defined]

    def tries() -> float:
        told = quest.service.metrics()["seamcost_webhook_tries"].samples
        return sum(one.value for one in told if one.name.endswith("_total"))

    try:
        until(lambda: tries() > 0)
        with quest.breaking():
            before = tries()
            quest.ask("POST", f"/v1/webhooks/{quest.webhook}/ping")  # type: ignore[attr-defined]
            until(lambda: tries() > before)
    finally:
        if started is not None:
            started.terminate()
            started.wait(30)


def _with_the_database_gone(quest: Quest) -> bytes:
    """503s; before them, what Prometheus is shown."""
    written = requests.get(quest.service.metrics_url, timeout=30).content
    if quest.run.server is not None:
        quest.run.server.drop(quest.run.database_url)
    else:
        file = Path(quest.run.database_url.removeprefix("sqlite:///"))
        file.write_bytes(b"no database at all: " + PRICES["price paid"].encode())
        for more in ("-wal", "-shm"):
            file.with_name(file.name + more).unlink(missing_ok=True)
    for path in ("/v1/prices?limit=1", "/v1/changes?limit=1", "/v1/dish-costs", "/health/ready"):
        quest.ask("GET", path)
    return written + requests.get(quest.service.metrics_url, timeout=30).content


def _search(quest: Quest, temporary: Path, metrics: bytes) -> None:
    """Everything that was written."""
    log = quest.service.log.read_bytes()
    places = {"the log": log, "/metrics": metrics, **{f"temporary file {path.name}": path.read_bytes()
                                                       for path in temporary.rglob("*") if path.is_file()}}
    maps = "".join(Path(f"/proc/{pid}/maps").read_text() for pid in quest.service.workers())
    counts = {line.split(maxsplit=5)[5] for line in maps.splitlines() if "seamcost-metrics-" in line}
    places |= {f"counts in {Path(path).name}": Path(path).read_bytes() for path in counts if Path(path).exists()}
    for place, data in places.items():
        quest.faults |= {f"{place}: {found}" for found in found_in(data, quest.canaries)}
    _hold_to_lines(quest, log)


def _hold_to_lines(quest: Quest, log: bytes) -> None:
    """One JSON object a line, none forged, and none missing."""
    lines = []
    for line in log.split(b"\n")[:-1]:
        try:
            told = json.loads(line)
        except ValueError:
            told = None
        if isinstance(told, dict) and "forged" not in told and {"time", "level", "event"} <= told.keys():
            lines.append(told)
        else:
            quest.faults.add("a line of the log is no object of ours")
    logged = Counter(line["status"] for line in lines if line["event"] == "request" and "/health/" not in line["route"])
    for status, count in quest.answers.items():
        if status not in QUIET and logged[status] < count:
            quest.faults.add(f"{count} answers of {status}, {logged[status]} in the log")
    for kind in ("unexpected KeyError", "not available: Ledger", "could not be read", "could not be sent"):
        if not any(kind in line.get("message", "") for line in lines):
            quest.faults.add(f"nothing in the log of: {kind}")


PROGRAMME = Programme(
    "quiet_logs", "T20", "no secret, key, feed path or supplier price in any log, metric, temporary file or error "
    "answer; each line is one JSON object", "requests", short=90, long=3_000, run=run, sabotages=SABOTAGES)
