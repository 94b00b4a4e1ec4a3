"""Traces by OpenTelemetry: a span for each request, and one within it for a snapshot that it had to build.

Off unless SEAMCOST_OTEL is 1 or one of the standard variables names where spans go (OTEL_EXPORTER_OTLP_ENDPOINT,
OTEL_EXPORTER_OTLP_TRACES_ENDPOINT), and without its packages, the extra `otel`, never on. Sampling, the service's name
and the exporter are set by the standard variables.

Rules that always hold: a span says what a line of the request log says, and no more: no path, no query, no header, no
body; exceptions are not recorded, since their texts may carry values.

Source: OpenTelemetry, semantic conventions for HTTP spans (stable); W3C Trace Context.
"""

import os
import sys
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from importlib.util import find_spec
from typing import Any

from service.settings import SettingWrong

ENDPOINTS = ("OTEL_EXPORTER_OTLP_ENDPOINT", "OTEL_EXPORTER_OTLP_TRACES_ENDPOINT")
_OURS = {"request_id": "seamcost.request_id", "key_id": "seamcost.key_id", "problem": "seamcost.problem"}


class Tracing:
    """Traces the requests of a process. `processor` takes the spans that ended."""

    def __init__(self, processor: Any) -> None:
        from opentelemetry import context, trace
        from opentelemetry.sdk.resources import Resource
        from opentelemetry.sdk.trace import TracerProvider
        from opentelemetry.trace.propagation.tracecontext import TraceContextTextMapPropagator

        named = {} if os.environ.get("OTEL_SERVICE_NAME") else {"service.name": "seamcost"}
        provider = TracerProvider(resource=Resource.create(named))
        provider.add_span_processor(processor)
        self._context, self._trace, self._carried = context, trace, TraceContextTextMapPropagator()
        self._tracer = provider.get_tracer("seamcost")
        self._open = threading.local()

    def begun(self, carried: Mapping[str, Any]) -> None:
        """Begin the span of a request, within the trace that it came with."""
        self._end()
        fields = {name: carried[f"HTTP_{name.upper()}"] for name in ("traceparent", "tracestate")
                  if f"HTTP_{name.upper()}" in carried}
        span = self._tracer.start_span("request", self._carried.extract(fields), kind=self._trace.SpanKind.SERVER)
        self._open.span = span, self._context.attach(self._trace.set_span_in_context(span))

    def answered(self, route: str, method: str, status: int, seconds: float,  # noqa: ARG002  (a span has its own clock)
                 more: Callable[[], Mapping[str, Any]]) -> None:
        """End it."""
        span = self._open.span[0]
        span.update_name(f"{method} {route}")
        span.set_attributes({"http.request.method": method, "http.route": route, "http.response.status_code": status})
        known = more()
        span.set_attributes({ours: known[name] for name, ours in _OURS.items() if name in known})
        if status >= 500:
            span.set_status(self._trace.StatusCode.ERROR)
        self._end()

    def asked_again(self) -> None:
        """Say so on the span."""
        self._open.span[0].add_event("asked again")

    @contextmanager
    def span(self, name: str) -> Iterator[None]:
        """Work within a request that is worth a span of its own."""
        with self._tracer.start_as_current_span(name, record_exception=False, set_status_on_exception=False):
            yield

    def _end(self) -> None:
        open_one = getattr(self._open, "span", None)
        if open_one is not None:
            span, token = open_one
            self._open.span = None
            self._context.detach(token)
            span.end()


def tracing_of(environment: Mapping[str, str] = os.environ) -> Tracing | None:
    """What traces this process; None unless somebody asks for it.

    Raises:  SettingWrong where SEAMCOST_OTEL is 1 and the packages are missing.
    """
    asked = environment.get("SEAMCOST_OTEL") == "1"
    if not asked and not any(environment.get(name) for name in ENDPOINTS):
        return None
    if find_spec("opentelemetry") is None or find_spec("opentelemetry.sdk") is None:
        if asked:
            raise SettingWrong("SEAMCOST_OTEL is 1, but OpenTelemetry is not installed: pip install 'seamcost[otel]'.")
        return None
    from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
    from opentelemetry.sdk.trace.export import BatchSpanProcessor

    return Tracing(BatchSpanProcessor(OTLPSpanExporter()))


def trace_at_hand() -> Mapping[str, Any]:
    """The trace that this thread works for, for lines of the log."""
    trace: Any = sys.modules.get("opentelemetry.trace")
    at_hand = None if trace is None else trace.get_current_span().get_span_context()
    return {"trace_id": f"{at_hand.trace_id:032x}"} if at_hand is not None and at_hand.is_valid else {}
