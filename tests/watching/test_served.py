"""A server with workers, watched from outside: counts that are equal to what was asked, one id in every place, spans.

Sources: Prometheus exposition format and naming (documentation, and the library's own reader); RFC 9457.
"""

import gzip
import os
import re
import shutil
import signal
import threading
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
import requests

from service import operating
from service.settings import Settings
from service.use_cases.keys import create_key
from service.use_cases.ports import Asker
from service.watching.figures import Figures
from tests.watching.serving import TOP, Served, served, until

TRACE = "0af7651916cd43dd8448eb211c80319c"
NAME = re.compile(r"seamcost_[a-z]+(_[a-z]+)*")
BASE_UNITS = ("seconds", "bytes", "revisions", "messages", "revision")
BEEF = {"name": "Beef", "kind": "meat", "base_unit": "kg"}
NO_UNIT = ("active", "up", "check", "workers", "open", "use")
NO_METRIC = "seamcost_watch"
"""The network of the compose file on which metrics are read."""
NOT_AT_THE_END = re.compile(r"_(total|count|sum|bucket|gauge|counter|info|ms|milliseconds|kb)$")


class Collected(BaseHTTPRequestHandler):
    """An OTLP collector: keeps what is sent to it."""

    bodies: list[bytes] = []  # noqa: RUF012  (one collector a module)

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"]))
        self.bodies.append(gzip.decompress(body) if self.headers.get("Content-Encoding") == "gzip" else body)
        self.send_response(200)
        self.end_headers()

    def log_message(self, *_: Any) -> None:
        """Nothing."""


@pytest.fixture(scope="module")
def service(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    pytest.importorskip("opentelemetry.sdk", reason="the extra otel is not installed")
    folder = tmp_path_factory.mktemp("watched")
    shutil.copyfile(sqlite_template, folder / "ledger.db")
    collector = ThreadingHTTPServer(("127.0.0.1", 0), Collected)
    threading.Thread(target=collector.serve_forever, daemon=True).start()
    with served(f"sqlite:///{folder}/ledger.db", folder, SEAMCOST_OTEL="1", OTEL_BSP_SCHEDULE_DELAY="200",
                OTEL_EXPORTER_OTLP_ENDPOINT=f"http://127.0.0.1:{collector.server_address[1]}") as running:
        yield running
    collector.shutdown()
    collector.server_close()


@pytest.fixture(scope="module")
def key(service: Served) -> str:
    settings = Settings(database_url=f"sqlite:///{service.log.parent}/ledger.db")
    with operating.opened_ledger(settings) as ledger:
        return str(create_key(ledger, "admin", ["admin"], None, Asker("cli", "x", "x")).document["key"])


class Asking:
    """Asks, each time on a connection of its own, and notes by route, method and status what was answered."""

    def __init__(self, service: Served, key: str) -> None:
        self.service, self.headers = service, {"Authorization": f"Bearer {key}", "Connection": "close"}
        self.answered: Counter[tuple[str, str, str]] = Counter()
        self.failed = 0

    def ask(self, route: str, method: str = "GET", path: str = "", **more: Any) -> requests.Response | None:
        headers = {**self.headers, **more.pop("headers", {})}
        try:
            answer = requests.request(method, self.service.url + (path or route), headers=headers, timeout=30, **more)
        except requests.RequestException:
            self.failed += 1
            return None
        self.answered[route, method, str(answer.status_code)] += 1
        return answer

    def ask_all(self, number: int) -> None:
        """One request of every sort."""
        told = self.ask("/v1/dish-costs")
        tag = told.headers["ETag"] if told is not None else '""'
        self.ask("/v1/dish-costs", headers={"If-None-Match": tag})
        self.ask("/v1/ingredients/{code}", path=f"/v1/ingredients/unknown-{number}")
        self.ask("none", path=f"/nowhere/{number}")
        self.ask("/v1/dish-costs", headers={"Authorization": "Bearer seam_00000000_wrong"})
        self.ask("/v1/ingredients/{code}", "PUT", f"/v1/ingredients/beef-{number}",
                 json=BEEF, headers={"X-Request-ID": f"office-{number}"})
        self.ask("none", "DELETE", "/v1/dish-costs")


def counted(service: Served) -> Counter[tuple[str, str, str]]:
    return Counter({(one.labels["route"], one.labels["method"], one.labels["status"]): int(one.value)
                    for one in service.metrics()["seamcost_http_requests"].samples if one.name.endswith("_total")})


def test_counts_are_what_was_asked_though_workers_are_killed(service: Served, key: str) -> None:
    asking = Asking(service, key)
    for turn in range(3):
        for number in range(turn * 10, turn * 10 + 6):
            asking.ask_all(number)
        before = service.workers()
        os.kill(before[turn % 2], signal.SIGKILL)  # while nothing is asked
        until(lambda before=before: len(set(service.workers()) - set(before)) == 1)
    assert (counted(service), asking.failed) == (asking.answered, 0)
    assert {status for _, _, status in asking.answered} == {"200", "201", "304", "401", "404", "405"}
    families = service.metrics()
    durations = Counter[tuple[str, str]]()
    for (route, method, _), count in asking.answered.items():
        durations[route, method] += count
    samples = families["seamcost_http_request_duration_seconds"].samples
    assert {(one.labels["route"], one.labels["method"]): one.value for one in samples
            if one.name.endswith("_count")} == dict(durations)
    problems = {one.labels["type"]: one.value for one in families["seamcost_http_problems"].samples
                if one.name.endswith("_total")}
    assert sum(problems.values()) == sum(count for (_, _, status), count in asking.answered.items() if status >= "400")


def test_what_was_asked_of_a_worker_as_it_was_killed_is_counted_at_most_once(service: Served, key: str) -> None:
    before, asking, ends = counted(service), Asking(service, key), threading.Event()

    def ask() -> None:
        while not ends.is_set():
            asking.ask("/v1/dish-costs")

    threads = [threading.Thread(target=ask) for _ in range(3)]
    for thread in threads:
        thread.start()
    workers = service.workers()
    until(lambda: sum(asking.answered.values()) > 20)
    os.kill(workers[0], signal.SIGKILL)
    until(lambda: len(set(service.workers()) - set(workers)) == 1)
    ends.set()
    for thread in threads:
        thread.join()
    route = ("/v1/dish-costs", "GET", "200")
    more = (counted(service) - before)[route]
    assert asking.answered[route] <= more <= asking.answered[route] + asking.failed


def test_one_request_has_one_id_in_the_answer_the_problem_the_log_and_the_ledger(service: Served, key: str) -> None:
    asking = Asking(service, key)
    fields = {"X-Request-ID": "office:put/1", "traceparent": f"00-{TRACE}-b7ad6b7169203331-01"}
    kept = asking.ask("/v1/ingredients/{code}", "PUT", "/v1/ingredients/one-id", json=BEEF,
                      headers=fields)
    assert kept is not None
    assert (kept.status_code, kept.headers["X-Request-ID"]) == (201, "office:put/1")
    refused = asking.ask("/v1/ingredients/{code}", "PUT", "/v1/ingredients/one-id", json={"name": 1}, headers=fields)
    assert refused is not None
    assert refused.json()["request_id"] == "office:put/1" == refused.headers["X-Request-ID"]
    revision = kept.json()["revision"]
    [entry] = [each for each in requests.get(f"{service.url}/v1/changes?limit=200", timeout=30,
                                             headers=asking.headers).json()["data"] if each["revision"] == revision]
    assert entry["request_id"] == "office:put/1"
    recorded = service.lines(event="recorded", request_id="office:put/1")
    assert [(line["revision"], line["trace_id"]) for line in recorded] == [(revision, TRACE)]
    asked = service.lines(event="request", request_id="office:put/1")
    assert [(line["status"], line.get("problem"), line["trace_id"]) for line in asked] == [
        (201, None, TRACE), (refused.status_code, refused.json()["type"].rpartition("/")[2], TRACE)]
    assert {line["key_id"] for line in asked} == {key.split("_")[1]} == {recorded[0]["key_id"]}


def test_a_span_says_what_the_log_says(service: Served, key: str) -> None:
    asking = Asking(service, key)
    asking.ask("/v1/dish-costs", path="/v1/dish-costs?codes=a-code-that-nobody-told",
               headers={"traceparent": f"00-{TRACE}-b7ad6b7169203331-01"})
    # A snapshot that was built for it is a span of its own, which may be sent before.
    until(lambda: all(told in b"".join(Collected.bodies) for told in (bytes.fromhex(TRACE), b"GET /v1/dish-costs")))
    sent = b"".join(Collected.bodies)
    for untold in (b"a-code-that-nobody-told", key.encode()):
        assert untold not in sent


def test_the_names_of_queries_are_told_and_nothing_else(service: Served, key: str) -> None:
    Asking(service, key).ask("/v1/dish-costs", path="/v1/dish-costs?codes=veal-cheek&secret-sauce=7319.41",
                             headers={"X-Request-ID": "queried"})
    [line] = service.lines(event="request", request_id="queried")
    assert (line["query"], line["route"], line["status"]) == (["codes", "other"], "/v1/dish-costs", 422)
    assert "veal-cheek" not in service.log.read_text()
    assert "sauce" not in service.log.read_text()


def test_metrics_are_on_their_own_port_and_nothing_else_is(service: Served, key: str) -> None:
    beside = service.metrics_url.removesuffix("/metrics")
    with_key = {"Authorization": f"Bearer {key}"}
    assert requests.get(f"{service.url}/metrics", headers=with_key, timeout=30).status_code == 404
    assert "/metrics" not in requests.get(f"{service.url}/openapi.json", timeout=30).json()["paths"]
    for path in ("/", "/health/live", "/v1/dish-costs", "/openapi.json", "/metrics/"):
        assert requests.get(beside + path, headers=with_key, timeout=30).status_code == 404
    assert requests.post(service.metrics_url, timeout=30).status_code == 404
    opened = requests.get(service.metrics_url, timeout=30,
                          headers={"Accept": "application/openmetrics-text; version=1.0.0"})
    assert opened.headers["Content-Type"].startswith("application/openmetrics-text")
    assert opened.text.endswith("# EOF\n")


def test_metrics_keep_to_the_rules_of_their_names(service: Served) -> None:
    """As `promtool check metrics` has them: help, base units, `_total` on counters alone, few labels."""
    families = service.metrics()
    for family in families.values():
        assert family.documentation, family.name
        assert NAME.fullmatch(family.name), family.name
        assert not NOT_AT_THE_END.search(family.name), family.name
        if family.type == "counter":
            assert all(one.name.endswith("_total") for one in family.samples)
        else:
            assert family.name.endswith(BASE_UNITS + NO_UNIT), family.name
        assert len({tuple(sorted(one.labels.items())) for one in family.samples}) < 1_000
    assert families["seamcost_database_up"].samples[0].value == 1
    checks = {one.labels["check"] for one in families["seamcost_health_check"].samples}
    assert checks >= {"database", "deliverer", "disk", "outbox"}
    told = {one.labels["process"]: one.value for one in families["seamcost_resident_memory_bytes"].samples}
    assert told["workers"] > told["largest_worker"] > 10_000_000
    assert families["seamcost_workers"].samples[0].value == 2


def test_all_that_was_counted_has_a_route_of_the_document(service: Served, key: str) -> None:
    Asking(service, key).ask("none", "BREW" + "X" * 20, "/v1/dish-costs")
    served_routes = set(requests.get(f"{service.url}/openapi.json", timeout=30).json()["paths"])
    told = counted(service)
    assert {route for route, _, _ in told} <= served_routes | {"none", "/openapi.json"}
    assert {method for _, method, _ in told} <= {"GET", "PUT", "DELETE", "other"}


def test_ready_is_told_in_the_metrics_check_by_check(service: Served) -> None:
    answer = requests.get(f"{service.url}/health/ready", timeout=30)
    assert (answer.status_code, answer.json()) == (200, {"status": "pass"})
    assert {one.value for one in service.metrics()["seamcost_health_check"].samples} == {1.0}


def test_every_metric_has_few_labels(service: Served) -> None:
    from prometheus_client import CollectorRegistry

    registry = CollectorRegistry()
    Figures(registry)
    allowed = {"route", "method", "status", "type", "how", "cause", "le", "came", "check", "process"}
    for family in (*registry.collect(), *service.metrics().values()):
        assert {name for one in family.samples for name in one.labels} <= allowed, family.name


def test_where_a_sqlite_ledger_lies_is_told_in_bytes(service: Served, key: str) -> None:
    Asking(service, key).ask("/v1/ingredients/{code}", "PUT", "/v1/ingredients/logged", json=BEEF)
    log = service.log.with_name("ledger.db-wal")
    assert log.stat().st_size > 4_096

    def told() -> tuple[float, ...]:
        families = service.metrics()
        return tuple(families[f"seamcost_sqlite_{name}_bytes"].samples[0].value
                     for name in ("write_ahead_log", "disk_free"))

    until(lambda: told()[0] == log.stat().st_size, seconds=30)  # a key's last use may be noted between the two
    assert told()[1] == pytest.approx(shutil.disk_usage(log).free, rel=0.2)


def test_every_metric_that_the_documents_name_is_there_with_its_labels(service: Served, key: str) -> None:
    with operating.opened_ledger(Settings(database_url=f"sqlite:///{service.log.parent}/ledger.db")) as ledger:
        ledger.webhooks.beat(datetime.now(UTC))
    Asking(service, key).ask_all(90)
    families = service.metrics()
    labels = {name: {label for one in family.samples for label in one.labels}
              for family in families.values() for name in (family.name, *(one.name for one in family.samples))}
    labels |= {f"{family.name}_total": {"came"} for family in families.values()
               if family.type == "counter" and not family.samples}  # nothing was tried
    documents = {name: named_in((TOP / name).read_text(encoding="utf-8")) for name in ("README.md", "DEVELOPERS.md")}
    assert [len(named) > least for named, least in zip(documents.values(), (1, 25), strict=True)] == [True, True]
    missing = [f"{document}: {names[0]}" for document, named in documents.items() for names, told in named
               if names != [NO_METRIC] and not any(name in labels and told <= labels[name] for name in names)]
    assert missing == []


def named_in(text: str) -> list[tuple[list[str], set[str]]]:
    """The metrics that a document names, each as the names that it may have in full, and its labels if it says them.

    Of `seamcost_a_b_c`, `..._d{x}` on one line the second may be seamcost_a_b_d or seamcost_a_d, with the label x;
    `seamcost_a_{b,c}` are two.
    """
    named = list[tuple[list[str], set[str]]]()
    for line in text.splitlines():
        before = list[str]()
        for name, braced in re.findall(r"`((?:seamcost|\.\.\.)_[a-z_]+)(?:\{([a-z_,]+)\})?", line):
            in_braces = set(braced.split(",")) - {""}
            if name.startswith("seamcost"):
                before, starts = name.split("_"), [name]
            else:
                starts = ["_".join(before[:count]) + name[3:] for count in range(len(before) - 1, 1, -1)]
            if name.endswith("_"):
                named += [([start + end for start in starts], set()) for end in sorted(in_braces)]
            elif starts:
                named.append((starts, in_braces))
    return named


def test_names_are_read_out_of_a_document_as_they_are_meant() -> None:
    assert named_in("`seamcost_a_b_c`, `..._d{x,y}` and `seamcost_p_{in,out}` (`seamcost_q == 0`)\n`..._r`") == [
        (["seamcost_a_b_c"], set()), (["seamcost_a_b_d", "seamcost_a_d"], {"x", "y"}),
        (["seamcost_p_in"], set()), (["seamcost_p_out"], set()), (["seamcost_q"], set())]
