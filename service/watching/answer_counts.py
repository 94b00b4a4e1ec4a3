"""Answers, counted and timed in one place each: the requests of a server by route, method, status and duration.

A counter and a histogram of the library would take three locked writes for an answer, each of some calls and look-ups,
which a poll that is done in a third of a millisecond feels. Here a key is a (route, method, status, bucket of the
duration), and by each stand two numbers, how many answers and their seconds together; both metrics are worked out of
them when somebody scrapes.

The numbers of a worker lie in a file that the library makes and reads, whose keys have two numbers each (the second is
meant for a timestamp). They are written here, through a mapping of our own of that file, where the library's reader
says that they stand. worker_files.py says which files, and adds them up.

Source: prometheus-client, `mmap_dict.MmapedDict`; Prometheus documentation, "Histograms and summaries".
"""

import json
import mmap
from array import array
from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from contextlib import closing
from itertools import accumulate
from pathlib import Path
from threading import Lock
from typing import Protocol

from prometheus_client.core import CounterMetricFamily, HistogramMetricFamily, Metric
from prometheus_client.mmap_dict import MmapedDict
from prometheus_client.utils import floatToGoString

FAST = (0.0005, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0)
"""Seconds, from a poll that nothing moved (some tenths of a millisecond) to a long list of prices."""
_BOUNDS = tuple(map(floatToGoString, (*FAST, float("inf"))))
Row = tuple[str, float, float]
"""A key, how many, and seconds."""


_SIZE = 8
"""Bytes of a number; the library aligns its own to so many."""


class Pairs(Protocol):
    """Two numbers a key, both 0 at first, which stand beside each other in `numbers`."""

    numbers: "array[float] | memoryview[float]"

    def places(self, keys: Iterable[str]) -> tuple[int, ...]:
        """Where in `numbers`, which may be others from then on, those of keys stand that were never asked for."""


class PairsInMemory:
    """Where a process counts for itself alone."""

    def __init__(self) -> None:
        self.numbers: array[float] | memoryview[float] = array("d")
        self._at = dict[str, int]()

    def places(self, keys: Iterable[str]) -> tuple[int, ...]:
        for key in keys:
            self._at[key] = len(self.numbers)
            self.numbers = array("d", (*self.numbers, 0.0, 0.0))
        return tuple(self._at[key] for key in keys)

    def rows(self) -> list[Row]:
        """What was counted so far."""
        return [(key, self.numbers[at], self.numbers[at + 1]) for key, at in self._at.copy().items()]


class PairsInFile:
    """Where a worker counts, for whoever is scraped to read; what was counted outlives it, however it ends."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.places(())

    def places(self, keys: Iterable[str]) -> tuple[int, ...]:
        with closing(MmapedDict(str(self._path))) as made:
            for key in keys:
                made.read_value(key)  # which makes it, where it is not there
        at = {key: place // _SIZE for key, _, _, place in MmapedDict.read_all_values_from_file(str(self._path))}
        with self._path.open("r+b") as file:
            whole = mmap.mmap(file.fileno(), 0)  # as long as it is now
        self.numbers: array[float] | memoryview[float] = memoryview(whole).cast("d")
        return tuple(at[key] for key in keys)


class AnswerCounts:
    """Counts answers. Threads share it; the places of a (route, method, status) are made once."""

    def __init__(self, pairs: Pairs) -> None:
        self._pairs, self._lock = pairs, Lock()
        self._places: dict[tuple[str, str, int], tuple[int, ...]] = {}

    def add(self, route: str, method: str, status: int, seconds: float) -> None:
        """One more answer. A duration that is a bound counts as within it, as Prometheus has it (`le`)."""
        places = self._places.get((route, method, status)) or self._make(route, method, status)
        at = places[bisect_left(FAST, seconds)]
        with self._lock:
            numbers = self._pairs.numbers
            numbers[at] += 1
            numbers[at + 1] += seconds

    def _make(self, route: str, method: str, status: int) -> tuple[int, ...]:
        of = (route, method, status)
        with self._lock:
            if of not in self._places:
                keys = [json.dumps([route, method, str(status), bucket]) for bucket in range(len(_BOUNDS))]
                self._places[of] = self._pairs.places(keys)
            return self._places[of]


def answer_metrics(rows: Iterable[Row]) -> Iterator[Metric]:
    """The metrics that the rows of all workers amount to."""
    answered: Counter[tuple[str, str, str]] = Counter()
    buckets: defaultdict[tuple[str, str], list[float]] = defaultdict(lambda: [0.0] * len(_BOUNDS))
    spent: defaultdict[tuple[str, str], float] = defaultdict(float)
    for key, count, seconds in rows:
        route, method, status, bucket = json.loads(key)
        answered[route, method, status] += count  # type: ignore[assignment]
        buckets[route, method][bucket] += count
        spent[route, method] += seconds
    requests = CounterMetricFamily("seamcost_http_requests", "Requests answered, by route, method and status.",
                                   labels=("route", "method", "status"))
    for labels, number in answered.items():
        requests.add_metric(labels, number)
    durations = HistogramMetricFamily("seamcost_http_request_duration_seconds",
                                      "Time from a request's routing to its answer.", labels=("route", "method"))
    for of, counts in buckets.items():
        durations.add_metric(of, list(zip(_BOUNDS, accumulate(counts), strict=True)), spent[of])
    yield from (requests, durations)
