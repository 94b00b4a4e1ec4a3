"""`/metrics`, on a listener of its own beside the API's: for Prometheus, and for nobody outside.

Rules that always hold: on that port nothing else is served, and on the API's port there is no such path, so that the
API document stays true; no key is asked for, since keys are in the database, and metrics are wanted most when that is
gone; what the ledger tells is read at each scrape.

Source: Prometheus exposition formats; prometheus-client, "Multiprocess Mode".
"""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from prometheus_client import CollectorRegistry
from prometheus_client.exposition import choose_encoder
from prometheus_client.multiprocess import MultiProcessCollector

from service.watching.answer_counts import answer_metrics
from service.watching.told_metrics import Tell, Told
from service.watching.worker_files import answers_of_all, steady

WsgiApp = Callable[[Any, Any], Iterable[bytes]]


class MetricsPage:
    """The page: what this process counted, or in a server all of its workers, and what `tell` tells."""

    def __init__(self, counted: CollectorRegistry, folder: Path | None, tell: Tell) -> None:
        self._counted, self._folder, self._told = Told(counted.collect), folder, Told(tell)

    def text(self, accept: str = "") -> tuple[bytes, str]:
        """The page in a form that the reader takes, and the form's media type."""
        encode, media_type = choose_encoder(accept)
        asked = CollectorRegistry()
        told = list(self._told.collect())  # before the files are held: a database that hangs would hold them as long
        asked.register(Told(lambda: told))
        if self._folder is None:
            asked.register(self._counted)
            return encode(asked), media_type
        folder = self._folder
        MultiProcessCollector(asked, path=str(folder))
        asked.register(Told(lambda: answer_metrics(answers_of_all(folder))))
        with steady(self._folder):
            return encode(asked), media_type


def metrics_beside(app: WsgiApp, port: int, page: MetricsPage) -> WsgiApp:
    """The application, with the page and nothing else for those who came by that port."""
    beside = str(port)

    def serve(environ: Any, start_response: Any) -> Iterable[bytes]:
        if environ.get("SERVER_PORT") != beside:
            return app(environ, start_response)
        if environ["PATH_INFO"] != "/metrics" or environ["REQUEST_METHOD"] not in ("GET", "HEAD"):
            start_response("404 Not Found", [("Content-Type", "text/plain"), ("Content-Length", "0")])
            return [b""]
        body, media_type = page.text(environ.get("HTTP_ACCEPT", ""))
        start_response("200 OK", [("Content-Type", media_type), ("Content-Length", str(len(body))),
                                  ("Cache-Control", "no-store"), ("X-Content-Type-Options", "nosniff")])
        return [] if environ["REQUEST_METHOD"] == "HEAD" else [body]

    return serve
