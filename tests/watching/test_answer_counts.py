"""Answers counted by one write each say what the library's own counter and histogram say of the same answers."""

import os
import threading
from collections.abc import Iterable
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from prometheus_client import CollectorRegistry, Counter, Histogram
from prometheus_client.core import Metric
from prometheus_client.mmap_dict import MmapedDict

from service.watching import worker_files
from service.watching.answer_counts import FAST, AnswerCounts, PairsInFile, PairsInMemory, answer_metrics
from service.watching.figures import Figures
from service.watching.metrics_page import MetricsPage

ROUTES, METHODS, STATUSES = ("/v1/dish-costs", "/v1/dishes/{code}", "none"), ("GET", "PUT", "other"), (200, 304, 404)
SECONDS = st.one_of(st.sampled_from([*FAST, 0.0, 31.0]), st.floats(0, 40))
ANSWERS = st.lists(st.tuples(st.sampled_from(ROUTES), st.sampled_from(METHODS), st.sampled_from(STATUSES), SECONDS))
Told = dict[tuple[str, tuple[tuple[str, str], ...]], float]


def told(families: Iterable[Metric]) -> Told:
    """Every sample by its name and labels, but for those that say when they began."""
    return {(sample.name, tuple(sorted(sample.labels.items()))): sample.value
            for family in families for sample in family.samples if not sample.name.endswith("_created")}


@given(ANSWERS)
@example([("none", "GET", 404, FAST[0])])
def test_they_say_what_the_library_s_own_say(answers: list[tuple[str, str, int, float]]) -> None:
    registry, pairs = CollectorRegistry(), PairsInMemory()
    requests = Counter("seamcost_http_requests", "x", ("route", "method", "status"), registry=registry)
    durations = Histogram("seamcost_http_request_duration_seconds", "x", ("route", "method"), buckets=FAST,
                          registry=registry)
    counts = AnswerCounts(pairs)
    for route, method, status, seconds in answers:
        requests.labels(route, method, str(status)).inc()
        durations.labels(route, method).observe(seconds)
        counts.add(route, method, status, seconds)
    ours, theirs = told(answer_metrics(pairs.rows())), told(registry.collect())
    assert ours.keys() == theirs.keys()
    assert ours == pytest.approx(theirs)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(worker_files.VARIABLE, "")  # so that it is unset again afterwards
    return worker_files.make_folder(tmp_path)


def test_threads_that_count_at_once_lose_nothing_while_the_file_grows(folder: Path) -> None:
    """The library's own reader reads it; the file is made longer, and mapped anew, meanwhile."""
    counts = AnswerCounts(worker_files.own_answers(folder))
    before = os.path.getsize(folder / f"answers_{os.getpid()}.pairs")

    def count(begin: int) -> None:
        for number in range(begin, begin + 1_000):
            counts.add(f"/v1/{number % 100}", "GET", 304, 0.25)

    threads = [threading.Thread(target=count, args=(begin,)) for begin in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    file = folder / f"answers_{os.getpid()}.pairs"
    assert os.path.getsize(file) > before
    read = [(value, beside) for _, value, beside, _ in MmapedDict.read_all_values_from_file(str(file))]
    assert len(read) == 100 * (len(FAST) + 1)
    assert [pair for pair in read if pair != (0.0, 0.0)] == [(80.0, 20.0)] * 100


def test_the_answers_of_all_workers_and_of_those_who_are_gone_are_added_up(folder: Path) -> None:
    for pid in (901, 902, 903):
        counts = AnswerCounts(PairsInFile(folder / f"answers_{pid}.pairs"))
        for status, seconds in ((304, 2**-12), (304, 0.25), (500, 7.0)):
            counts.add("/v1/dish-costs", "GET", status, seconds)
    page = MetricsPage(CollectorRegistry(), folder, list)
    alive = page.text()
    for pid in (901, 902):
        worker_files.worker_gone(pid)
    assert {path.name for path in folder.glob("*.pairs")} == {"answers_903.pairs", "answers_gone.pairs"}
    assert page.text() == alive
    lines = alive[0].decode().splitlines()
    assert 'seamcost_http_requests_total{method="GET",route="/v1/dish-costs",status="304"} 6.0' in lines
    assert [line.rpartition(" ")[2] for line in lines if "_bucket{" in line] == [
        "3.0"] * 8 + ["6.0"] * 5 + ["9.0"] * 3
    [seconds] = [float(line.rpartition(" ")[2]) for line in lines if "_sum{" in line]
    assert seconds == 3 * (2**-12 + 7.25)


def test_a_process_that_is_no_server_s_counts_for_itself() -> None:
    registry = CollectorRegistry()
    figures = Figures(registry)
    figures.answers.add("/v1/dish-costs", "GET", 200, 0.25)
    assert b'seamcost_http_requests_total{method="GET",route="/v1/dish-costs",status="200"} 1.0' in MetricsPage(
        registry, None, list).text()[0]
