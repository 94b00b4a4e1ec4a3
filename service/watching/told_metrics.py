"""Metrics that are worked out when somebody scrapes, and not before."""

from collections.abc import Callable, Iterable, Iterator

from prometheus_client.core import Metric
from prometheus_client.registry import Collector

Tell = Callable[[], Iterable[Metric]]


class Told(Collector):
    """Metrics that are asked for at each scrape."""

    def __init__(self, tell: Tell) -> None:
        self._tell = tell

    def collect(self) -> Iterator[Metric]:
        yield from self._tell()

    def describe(self) -> list[Metric]:
        """None beforehand: asking would connect."""
        return []
